"""Files that no car asks for: each is refused with its place before any work, however it grew."""

from __future__ import annotations

import json
from pathlib import Path
from unittest.mock import Mock

import pytest

from tests.cli.conftest import Ran, Run

pytestmark = pytest.mark.usefixtures("garage")
LOADS = "302 288.5 231 244"


def edited(name: str, old: str, new: str) -> None:
    """Put something else into a file, in the one place where it can be."""
    text = Path(name).read_text()
    assert text.count(old) >= 1, (name, old)
    Path(name).write_text(text.replace(old, new, 1))


def refused(ran: Ran, *lines: str) -> None:
    """Hold a fault against the lines that it should be."""
    assert (ran.status, ran.out, ran.err.splitlines()) == (2, "", list(lines))


@pytest.mark.parametrize("value", ["3", "1.5", "true", "[]"])
def test_what_comes_and_goes_may_be_no_list(run: Run, value: str) -> None:
    text = Path("coupe.toml").read_text()
    start, end = text.index("[[on_board]]"), text.index("[class]")
    Path("coupe.toml").write_text(f"on_board = {value}\n" + text[:start] + text[end:])
    ran = run("check coupe.toml")
    assert ran.status == 2
    assert all(line.startswith("coupe.toml:") for line in ran.err.splitlines())


def weighings(count: int, pads: str) -> None:
    """Write a file of so many weighings, the last with other pads."""
    one = '[[weighing]]\npads = ["A", "B", "C", "D"]\nreadings = [[302, 288.5, 231, 244]]\n'
    last = f"[[weighing]]\npads = {pads}\nreadings = [[302, 288.5, 231, 244]]\n"
    Path("many.toml").write_text(one * (count - 1) + last)


@pytest.mark.parametrize("pads", ["[1, 2, 3, 4]", '["A", "A", "C", "D", "E"]', '"A"', "[[1], 2]"])
def test_what_is_wrong_past_the_last_that_is_looked_at(run: Run, pads: str) -> None:
    weighings(101, pads)
    refused(run("pads coupe.toml many.toml"), "many.toml:1: weighing: has 101 values: 100 at most")


def test_a_fifth_pad_whatever_it_is_called(run: Run) -> None:
    weighings(4, '["A", "B", "C", "D"]')
    pad = "[[pad]]\nname = {}\nthickness = 50\n"
    with Path("many.toml").open("a") as file:
        file.write("".join(pad.format(name) for name in ('"A"', '"B"', "[1]", "{a = 1}", "7")))
    ran = run("pads coupe.toml many.toml")
    assert (ran.status, ran.err[:35]) == (2, "many.toml:13: pad: has 5 values: gi")


def test_a_wheel_that_outweighs_what_its_pad_shows_has_no_frequency(run: Run) -> None:
    edited("coupe.toml", "unsprung_mass = 31", "unsprung_mass = 250")
    ran = run(f"check coupe.toml {LOADS} --json")
    assert ran.status == 0
    assert "nan" not in ran.out.lower()
    edited("coupe.toml", "unsprung_mass = 250", "unsprung_mass = 249")
    ran = run("check coupe.toml 240 248 280 290")
    assert "nan" not in ran.out
    assert "LF carries no more than its wheel weighs: check unsprung_mass" in ran.out


@pytest.fixture
def no_parser(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fail where a parser is let loose on what it would choke on."""

    def choke(text: str) -> None:
        pytest.fail(f"parsed {len(text)} characters")

    monkeypatch.setattr("balancer.files.format.toml_text.tomllib.loads", choke)
    monkeypatch.setattr("balancer.files.format.typos.tomllib.loads", choke)


LONG_KEYS = {
    "a key": "a." * 50_000 + "a = 1",
    "a heading": "[" + "a." * 50_000 + "a]",
    "a list of tables": "[[" + "a . " * 50_000 + "a]]",
    "in quotes": '"a".' * 50_000 + "'a' = 1",
    "in a table": "x = {b = 1, " + "a." * 50_000 + "a = 1}",
    "behind a text": 'x = "a\\"b"\n' + "a." * 50_000 + "a = 1",
    "with nothing behind it": "a." * 50_000 + "a",
}


@pytest.mark.usefixtures("no_parser")
@pytest.mark.parametrize("text", LONG_KEYS.values(), ids=LONG_KEYS)
@pytest.mark.parametrize("command", ["check big.toml", "weigh coupe.toml --readings big.toml"])
def test_a_dotted_key_that_would_never_be_read(
    run: Run, command: str, text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("big.toml").write_text(f"# a remark\n{text}\n")
    command = command.replace("coupe.toml", "none.toml")
    line = 2 + text.count("\n")
    ran = run(command)
    said = f"big.toml:{line}: a key of 50001 parts: a file needs two, as in front.track"
    assert (ran.status, ran.err.splitlines()[-1]) == (2, said)


def test_points_in_a_text_are_no_key(run: Run) -> None:
    name = "1.2.3.4.5.6.7.8.9.10.11 a.b.c.d.e.f.g.h.i.j.k"
    edited("coupe.toml", 'name = "Heron Lane coupe"', f'name = "{name}"  # {name}')
    assert run("check coupe.toml").status == 0


def test_a_file_larger_than_any(run: Run) -> None:
    Path("big.toml").write_text(Path("coupe.toml").read_text() + "# remark\n" * 50_000)
    said = "big.toml: is larger than 400 kB: name a TOML file of a few kilobytes"
    refused(run("check big.toml"), said)


@pytest.mark.parametrize("value", ["[" * 40 + "]" * 40, "{a = " * 40 + "1" + "}" * 40])
def test_lists_and_tables_deep_in_each_other(run: Run, value: str) -> None:
    edited("coupe.toml", "[front]", f"[front]\nspring_rate = {value}")
    edited("coupe.toml", "spring_rate = 70\n", "")
    said = "coupe.toml:7: front: is nested too deep: a car file needs two levels"
    refused(run("check coupe.toml"), said)


def test_no_more_faults_than_somebody_reads(run: Run) -> None:
    edited("coupe.toml", "[front]", "".join(f"k{n} = 1\n" for n in range(20_000)) + "[front]")
    ran = run("check coupe.toml")
    lines = ran.err.splitlines()
    assert (ran.status, len(lines)) == (2, 51)
    assert lines[0].startswith("coupe.toml:7: k0: unknown key: ")
    assert lines[49].startswith("coupe.toml:56: k49: unknown key: ")
    assert lines[50] == "coupe.toml: and 19950 more faults: mend these first"


def test_names_are_guessed_at_for_the_faults_that_are_told(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = Mock(return_value=[])
    monkeypatch.setattr("difflib.get_close_matches", asked)
    edited("coupe.toml", "[front]", "".join(f"k{n} = 1\n" for n in range(20_000)) + "[front]")
    assert run("check coupe.toml").status == 2
    assert asked.call_count < 300


def test_a_book_of_faults(run: Run) -> None:
    names = ", ".join(f'"part {n}"' for n in range(100))
    variant = f'[[variant]]\nname = "v{{}}"\non = [{names}]\n'
    part = '[[part]]\nname = "seat"\nmass = 8\naft = 1000\nleft = 0\n'
    Path("big.toml").write_text(part + "".join(variant.format(n) for n in range(100)))
    ran = run(f"parts coupe.toml {LOADS} --book big.toml")
    lines = ran.err.splitlines()
    assert (ran.status, len(lines)) == (2, 51)
    assert lines[0].startswith("big.toml:8: variant[1].on: “part 0” is not in the book: ")
    assert lines[50] == "big.toml: and more faults: mend these first"


def test_slips_in_a_large_file_are_not_read_over_and_over(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    import tomllib

    read = Mock(wraps=tomllib.loads)
    monkeypatch.setattr("balancer.files.format.typos.tomllib.loads", read)
    text = Path("coupe.toml").read_text() + "# a remark of some length\n" * 12_000
    Path("big.toml").write_text(text + "x = 1,5\n" * 1_000)
    ran = run("check big.toml")
    assert ran.status == 2
    assert ran.err.splitlines()[-1] == "big.toml: and perhaps more: mend these first"
    assert sum(len(call.args[0]) for call in read.call_args_list) < 3_000_000


@pytest.mark.parametrize(
    ("kind", "file", "place"),
    [
        ("perch", "coupe.toml", "front.perch_travel"),
        ("mount", "real.toml", "front.mount_travel"),
        ("link", "real.toml", "front.link_travel"),
    ],
)
@pytest.mark.parametrize("step", ['"1/100"', "0.01"])
def test_steps_that_nobody_counts(run: Run, kind: str, file: str, place: str, step: str) -> None:
    lines = [
        f"{kind}_travel = [-150, 200]\n{kind}_step = {step}" if line.startswith(f"{kind}_lead")
        else "" if line.startswith((f"{kind}_step", f"{kind}_travel")) else line
        for line in Path(file).read_text().split("\n")
    ]  # fmt: skip
    lines = [f"{kind}_lead = 1.5\n{line}" if f"{kind}_step" in line else line for line in lines]
    Path(file).write_text("\n".join(lines))
    ran = run(f"check {file}")
    assert ran.status == 2
    first = ran.err.splitlines()[0]
    assert first.endswith(
        f"{place}: 350 turns in steps of 0.01 are 35000 steps: expected 4000 at most:"
        f" give the turns that are left, or a larger {kind}_step"
    )


def test_more_choices_of_ballast_than_can_be_weighed(run: Run) -> None:
    place = '[[place]]\nname = "p{}"\naft = 1000\nleft = 0\n'
    piece = "[[piece]]\nmass = {}\n"
    text = Path("coupe.toml").read_text()
    start = text.index("[[place]]")
    end = text.index("[[piece]]")
    many = "".join(place.format(n) for n in range(200))
    many += "".join(piece.format(n + 1) for n in range(40))
    assert "[" not in text[end + 9 :].replace("[[piece]]", "")
    Path("coupe.toml").write_text(text[:start] + many)
    ran = run(f"ballast coupe.toml {LOADS}")
    said = "coupe.toml:844: piece: 40 kinds at 200 places are 8000 choices: expected 2000 at most"
    assert ran.status == 2
    assert ran.err.splitlines()[0].split(": ", 1)[1] == said.split(": ", 1)[1]


def test_a_date_without_end(run: Run) -> None:
    edited("weigh_in.toml", "date = ", f'date = "{"x" * 5000}"  # ')
    ran = run("weigh coupe.toml --readings weigh_in.toml")
    assert ran.status == 2
    assert ran.err.endswith(": date: has 5000 characters: 200 at most\n")


@pytest.mark.parametrize("escape", ["\\u001b[2J", "\\u0007", "\\u009b", "\\u202e", "\\u0000"])
def test_what_a_terminal_would_obey(run: Run, escape: str) -> None:
    edited("weigh_in.toml", "date = ", f'date = "today{escape}"  # ')
    ran = run("weigh coupe.toml --readings weigh_in.toml")
    assert ran.status == 2
    assert ran.err.endswith("has a control character in it: leave that out\n")
    edited("coupe.toml", '"driver"', f'"driver{escape}"')
    ran = run(f"weigh coupe.toml {LOADS}")
    assert ran.status == 2
    assert "has a control character in it: leave that out" in ran.err
    assert ran.err.replace("\n", "").isprintable()


def test_a_key_without_end_is_shown_short(run: Run) -> None:
    edited("coupe.toml", "[front]", f"{'k' * 5000} = 1\n[front]")
    ran = run("check coupe.toml")
    assert ran.status == 2
    assert max(map(len, ran.err.splitlines())) < 400


def test_the_schema_states_the_bounds(run: Run) -> None:
    car = json.loads(run("schema").out)["properties"]
    assert [car[name]["maxItems"] for name in ("on_board", "place", "piece")] == [200, 200, 50]
    assert car["name"]["maxLength"] == 200
    readings = json.loads(run("schema readings").out)["properties"]
    assert readings["readings"]["maxItems"] == 100
    assert (readings["date"]["maxLength"], readings["note"]["maxLength"]) == (200, 200)
    parts = json.loads(run("schema parts").out)["properties"]
    assert (parts["part"]["maxItems"], parts["variant"]["maxItems"]) == (500, 100)
    pads = json.loads(run("schema pads").out)["properties"]
    assert (pads["pad"]["maxItems"], pads["weighing"]["maxItems"]) == (4, 100)
    corner = car["front"]["properties"]
    assert corner["perch_travel"]["items"] == {
        "type": ["number", "string"],
        "minimum": -5000,
        "maximum": 5000,
    }
    assert corner["motion_ratio"]["oneOf"][0]["maximum"] == 1.3
    assert (corner["link_ratio"]["minimum"], corner["link_ratio"]["maximum"]) == (0.1, 2)
    assert "minimum" not in corner["spring_rate"]["oneOf"][0]


@pytest.mark.parametrize("line", ["\x1b", "\x1b[31m", "\x07\x07", "  \x9b  "])
def test_a_line_of_nothing_but_control_characters(run: Run, line: str) -> None:
    edited("coupe.toml", "[front]", f"{line}\n[front]")
    ran = run("check coupe.toml")
    shown = line.strip().encode("unicode_escape").decode()
    said = f"coupe.toml:7: a control character in “{shown}”: leave the line out"
    refused(ran, said)
