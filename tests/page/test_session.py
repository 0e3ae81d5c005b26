"""The session in a browser: the lines that a terminal writes, once, and by what was seen."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from balancer.cli.session import command
from tests.page.client import Answer, Client, house_of

PAGE = "/car/coupe/session"
FIRST = {"LF": "302", "RF": "288.5", "LR": "231", "RR": "244"}
ALONE = ("at", "act")
"""Keys of a line that say when and in which form it was written, and not what."""


def lines(folder: Path) -> list[dict[str, Any]]:
    log = folder / "coupe.log.jsonl"
    if not log.exists():
        return []
    return [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]


def told(folder: Path) -> list[dict[str, Any]]:
    """Lines of the log but for when and by whom."""
    return [
        {key: value for key, value in line.items() if key not in ALONE} for line in lines(folder)
    ]


def sent(client: Client, do: str, typed: dict[str, str] | None = None) -> Answer:
    """Open the session, fill in a form and send it."""
    return client.post(PAGE, {**client.get(PAGE).form(do), **(typed or {})})


def in_terminal(folder: Path, text: str) -> list[dict[str, Any]]:
    result = CliRunner().invoke(command, [str(folder / "coupe.toml"), "--json"], input=text)
    assert result.exit_code == 0, result.output
    # Before 8.2 click gives notes among the answers.
    return [json.loads(line) for line in result.output.splitlines() if line.startswith("{")]


def test_a_session_writes_what_a_terminal_writes(
    client: Client, folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    other = tmp_path_factory.mktemp("terminal")
    (other / "coupe.toml").write_bytes((folder / "coupe.toml").read_bytes())
    in_terminal(
        other,
        "aboard driver, fuel=6\n302 288.5 231 244\nmade LF=-0.75 RF=0.5\n299.5 291.5 233 242\n",
    )
    board = {"on-0": "1", "on-1": "1", "amount-1": "6"}
    assert sent(client, "weigh", {**FIRST, **board}).status == 303
    form = client.get("/car/coupe/turned").form("made")
    form |= {"much-LF": "3/4", "way-LF": "down", "much-RF": "0,5", "way-RF": "up"}
    assert client.post("/car/coupe/turned", form).status == 303
    second = {"LF": "299,5", "RF": "291.5", "LR": "233", "RR": "242 kg"}
    assert sent(client, "weigh", second).status == 303
    assert sent(client, "end").status == 303
    assert told(folder) == told(other)


def test_four_large_turns_are_the_plan(client: Client, folder: Path) -> None:
    shown = client.follow(sent(client, "weigh", FIRST))
    turns = lines(folder)[-1]["data"]["turns"]
    assert len(turns) == 4
    for pad, turn in turns.items():
        assert f"{pad} {'up' if turn > 0 else 'down'}" in shown.words
    assert "Care: put the car on stands" in shown.words
    after = client.follow(client.post(PAGE, shown.form("done")))
    assert "Settle the car, then read the four pads." in after.words
    assert lines(folder)[-1] | {"act": ""} == {
        **lines(folder)[-1], "act": "", "kind": "made", "data": {"turns": turns, "assumed": False},
    }  # fmt: skip


def test_what_is_odd_in_the_car_file_is_said_before_anybody_weighs(
    client: Client, folder: Path
) -> None:
    path = folder / "coupe.toml"
    path.write_text(re.sub(r"(?m)^motion_ratio = .*$", "motion_ratio = 1.3", path.read_text()))
    odd = "motion_ratio: 1.3 is above 1, which few cars have"
    assert odd in client.get("/car/coupe").text
    assert odd in client.get(PAGE).text
    assert sent(client, "weigh", FIRST).status == 303
    assert odd not in client.get(PAGE).text
    assert odd in client.get("/car/coupe").text


def test_a_slip_is_asked_about_and_nothing_typed_is_lost(client: Client, folder: Path) -> None:
    client.follow(sent(client, "weigh", FIRST))
    client.follow(sent(client, "done"))
    before = lines(folder)
    form = {**client.get(PAGE).form("weigh"), "LF": "30", "RF": "291.5", "LR": "233", "RR": "242"}
    asked = client.post(PAGE, form)
    assert asked.status == 200
    assert "LF reads 30.0, expected about" in asked.words
    assert lines(folder) == before
    again = asked.form("weigh")
    assert {pad: again[pad] for pad in FIRST} == {pad: form[pad] for pad in FIRST}
    # Another number than the one that was asked about is asked about anew.
    assert client.post(PAGE, {**again, "LF": "31", "keep": "1"}).status == 200
    assert client.post(PAGE, again).status == 200
    assert lines(folder) == before
    assert client.post(PAGE, {**again, "keep": "1"}).status == 303
    kinds = [line["kind"] for line in lines(folder)[len(before) :]]
    assert kinds[0] == "weigh_in"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"LF": ""}, "LF: is empty: type its number"),
        ({"RF": "28x"}, "RF: “x” is not a unit for this: known here: kg, lb"),
        ({"RR": "-3"}, "RR"),
        ({"LR": "1,005"}, "LR: 1,005 has a comma: write 1005, or 1.005 with a point"),
        ({"on-1": "1", "amount-1": "99"}, "the tank holds 42 L"),
        ({"cross": "5"}, "Cross weight: 5 is out of reason: expected 20 to 80"),
        ({"LF": "undo"}, "LF: “undo” is not a number"),
        ({"height-LF": "3"}, "Height at RF: is empty"),
        ({f"height-{pad}": "300" for pad in FIRST}, "Heights of the pads: are out of reason"),
    ],
)
def test_a_fault_is_told_beside_what_was_typed(
    client: Client, folder: Path, typed: dict[str, str], said: str
) -> None:
    answer = sent(client, "weigh", {**FIRST, **typed})
    assert answer.status == 422
    assert said in answer.words
    again = answer.form("weigh")
    assert {key: again[key] for key in FIRST} == {key: {**FIRST, **typed}[key] for key in FIRST}
    assert lines(folder) == []


def test_a_form_sent_again_enters_nothing_twice(client: Client, folder: Path) -> None:
    for do, typed in (("weigh", FIRST), ("done", {}), ("undo", {}), ("note", {"text": "wet"})):
        form = {**client.get(PAGE).form(do), **typed}
        assert client.follow(client.post(PAGE, form)).status == 200
        before = lines(folder)
        again = client.post(PAGE, form)
        assert "nothing was entered twice" in client.follow(again).words
        assert lines(folder) == before


def test_a_form_of_before_is_refused_and_says_what_has_changed(
    client: Client, folder: Path
) -> None:
    other = Client(client.app)
    old = other.get(PAGE).form("weigh")
    client.follow(sent(client, "weigh", FIRST))
    before = lines(folder)
    late = other.post(PAGE, {**old, **FIRST, "LF": "303"})
    assert late.status == 409
    assert "The log has gone on since this page was made. Nothing of yours was entered." in (
        late.words
    )
    assert "weigh-in, 1065.5 kg, cross 48.8 %" in late.words
    assert 'value="303"' in late.text
    assert lines(folder) == before
    assert json.loads(client.get("/car/coupe/seen?after=0").text) == {"behind": True}
    assert json.loads(client.get("/car/coupe/seen?after=3").text) == {"behind": False}


def test_undo_takes_back_what_the_page_shows(client: Client, folder: Path) -> None:
    client.follow(sent(client, "weigh", FIRST))
    client.follow(sent(client, "done"))
    shown = client.follow(sent(client, "undo"))
    assert "Done: turned as shown" in shown.words
    assert re.search(r"48\.\d\d % now, wanted 50 %; this makes (49\.9|50\.0)\d %", shown.words)
    assert "Read the four pads" in client.follow(sent(client, "undo")).words


def test_a_server_killed_and_started_goes_on(client: Client, folder: Path) -> None:
    form = {**client.get(PAGE).form("weigh"), **FIRST}
    restarted = Client(house_of(folder).app(), client.cookies)
    assert restarted.post(PAGE, form).status == 303
    assert "nothing was entered twice" in restarted.follow(restarted.post(PAGE, form)).words


def test_a_kill_between_the_lines_of_an_act_is_mended_by_sending_it_again(
    client: Client, folder: Path
) -> None:
    client.follow(sent(client, "weigh", FIRST))
    second = {"LF": "295.5", "RF": "295", "LR": "237.5", "RR": "237.5"}
    client.follow(sent(client, "done"))
    form = {**client.get(PAGE).form("weigh"), **second, "on-1": "1", "amount-1": "5"}
    assert client.post(PAGE, form).status == 303
    whole, log = told(folder), folder / "coupe.log.jsonl"
    raw = log.read_bytes().splitlines(keepends=True)
    for kept in range(4, len(raw)):
        log.write_bytes(b"".join(raw[:kept]))
        assert client.post(PAGE, form).status == 303
        client.get(PAGE)
        found = [line["kind"] for line in lines(folder)]
        assert found.count("weigh_in") == 2
        if "plan" in found[found.index("made") :]:
            assert told(folder) == whole
        else:
            # What was weighed is kept; its plan is made when somebody goes on.
            assert told(folder) == whole[:kept]


def test_a_terminal_goes_on_from_the_page_and_back(client: Client, folder: Path) -> None:
    client.follow(sent(client, "weigh", FIRST))
    client.follow(sent(client, "done"))
    opening, *_ = in_terminal(folder, "note from the bench\n")
    assert opening["resumed"]
    # A terminal that is closed ends its session; the page begins another.
    assert "Read the four pads" in client.get(PAGE).words
    assert "from the bench" in client.get("/car/coupe/log").words


def test_while_a_terminal_sits_there_the_page_reads_and_does_not_write(
    client: Client, folder: Path
) -> None:
    from balancer.log.writer import open_log

    form = {**client.get(PAGE).form("weigh"), **FIRST}
    with open_log(str(folder / "coupe.log.jsonl")) as writer:
        writer.append("note", {"text": "typed in a terminal"})
        answer = client.post(PAGE, form)
        assert "another session or note has it open" in answer.words
        assert answer.form("weigh")["LF"] == "302"
        assert "typed in a terminal" in client.get("/car/coupe/log").words
    assert client.post(PAGE, form).status == 303


def test_other_turns_are_said_with_the_readings_they_explain(client: Client, folder: Path) -> None:
    client.follow(sent(client, "weigh", FIRST))
    client.follow(sent(client, "done"))
    form = {**client.get(PAGE).form("weigh"), "LF": "300", "RF": "290.5", "LR": "233", "RR": "242"}
    asked = client.post(PAGE, form)
    assert "Cross weight reads" in asked.words
    assert "say yes" not in asked.words
    before = len(lines(folder))
    turned = {"turned": "1", "much-LF": "0.5", "way-LF": "down"}
    assert client.post(PAGE, {**asked.form("weigh"), **turned}).status == 303
    new = lines(folder)[before:]
    assert [line["kind"] for line in new if line["kind"] in ("made", "weigh_in")] == [
        "made", "weigh_in",
    ]  # fmt: skip
    assert new[0]["data"]["turns"] == {"LF": -0.5}


def test_a_car_whose_plan_is_elsewhere_than_this_page_expects(client: Client, folder: Path) -> None:
    form = client.get(PAGE).form("weigh")
    answer = client.post(PAGE, {**form, "do": "done"})
    assert answer.status == 422
    assert "Turns: none are planned" in answer.words
    assert client.post(PAGE, {**form, "do": "sweep"}).status == 422
    assert client.post(PAGE, {**form, "act": ""}).status == 422
    assert lines(folder) == []


def test_what_a_session_goes_by_is_said_once_and_can_be_changed(
    client: Client, folder: Path
) -> None:
    heights = {"height-LF": "3", "height-RF": "0", "height-LR": "1,5", "height-RR": "0"}
    client.follow(sent(client, "weigh", {**FIRST, **heights, "cross": "50.5"}))
    begin = lines(folder)[0]["data"]
    assert begin["target_cross_pct"] == pytest.approx(50.5)
    assert begin["pad_heights_mm"] == pytest.approx([3, 0, 1.5, 0])
    client.follow(sent(client, "settings", {"cross": "51"}))
    *_, options, plan = (line for line in lines(folder) if line["kind"] != "belief")
    assert options["data"]["target_cross_pct"] == pytest.approx(51)
    shown = client.get(PAGE)
    assert client.post(PAGE, shown.form("done")).status == 303
    assert lines(folder)[-1]["data"]["turns"] == plan["data"]["turns"]
    promised = plan["data"]["promised_cross_pct"]
    assert promised == pytest.approx(51, abs=0.2)
    assert f"That makes {promised:.2f} %" in shown.words
    assert "Aims for 51.0 % cross weight" in shown.words
    assert shown.form("settings")["height-LR"] == "1.5"
    assert sent(client, "settings").status == 422


def test_drop_links_are_said_once_planned_and_counted(client: Client, folder: Path) -> None:
    car = folder / "coupe.toml"
    bar = "anti_roll_bar = 30\nlink_ratio = 0.8\nlink_lead = 1.0\nlink_twist = 0\n"
    car.write_text(car.read_text().replace("anti_roll_bar = 0 ", f"{bar}#", 1))
    client.follow(sent(client, "weigh", FIRST | {"cross": "52", "links": "1"}))
    plan = lines(folder)[-1]["data"]
    assert plan["links"]["front link"]
    shown = client.get(PAGE)
    assert "Drop links may be turned too: left front link." in shown.words
    assert "Also turn the left front link:" in shown.words
    client.follow(client.post(PAGE, shown.form("done")))
    assert {key: lines(folder)[-1]["data"][key] for key in ("turns", "links")} == {
        key: plan[key] for key in ("turns", "links")
    }
    sent(client, "undo")
    form = client.get("/car/coupe/turned").form("made")
    form |= {"much-front-link": "1/2", "way-front-link": "shorter"}
    assert client.post("/car/coupe/turned", form).status == 303
    assert lines(folder)[-1]["data"]["links"] == {"front link": -0.5}
    assert "Turned: front link ½ turn shorter." in client.get(PAGE).words
    # The box was there and left empty.
    form = client.get(PAGE).form("settings")
    assert form.pop("links") == "1"
    client.post(PAGE, form)
    assert lines(folder)[-1]["data"]["links"] is False
    assert "much-front-link" not in client.get("/car/coupe/turned").form("made")


def test_another_target_in_the_car_file_is_told(client: Client, folder: Path) -> None:
    sent(client, "weigh", FIRST)
    car = folder / "coupe.toml"
    assert "The car file says" not in client.get(PAGE).words
    text = car.read_text(encoding="utf-8")
    was = re.search(r"(?m)^\[target\][^\[]*", text)
    text = text.replace(was[0], "") if was else text
    car.write_text(f"{text}\n[target]\ncross_pct = 53\n", encoding="utf-8")
    assert (
        "The car file says 53.0 % cross weight now; this session goes on with 50.0 % cross weight;"
        " end it to begin one that takes that." in client.get(PAGE).words
    )
