"""The files: what `init` writes, where each key is, and the schema that editors check by."""

from __future__ import annotations

import io
import json
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from balancer.car.model import Car, Item, Piece, Place, RaceTrim, Rules, Scales, Target
from balancer.files.car_reader import read_car
from balancer.files.format.keys import (
    BODY_FIELDS,
    CLASS_FIELDS,
    ITEM_FIELDS,
    PIECE_FIELDS,
    PLACE_FIELDS,
    RACE_TRIM_FIELDS,
    SCALES_FIELDS,
    TARGET_FIELDS,
)
from balancer.files.format.toml_text import locate
from balancer.files.format.value_types import Key
from balancer.files.json_schema import json_schema
from tests.cli.conftest import GARAGE, Run
from tests.conftest import COUPE, ROADSTER, ROOT, WEIGH_IN


@pytest.mark.parametrize("every", [(), ("--all",)])
@pytest.mark.parametrize(("option", "units"), [((), "metric"), (("--us",), "us")])
def test_init_writes_a_car_that_check_accepts(
    option: tuple[str, ...], units: str, every: tuple[str, ...], run: Run, tmp_path: Path
) -> None:
    path = tmp_path / "my car é.toml"
    assert run("init", str(path), *option, *every) == (
        0,
        f"{path} written. Put in your car's numbers, then: balancer check {path}\n",
        "",
    )
    assert read_car(path).units.name == units
    left = "" if every else "wheelbase, track, spring_rate, motion_ratio, perch_lead still as init"
    noted = f"note: my car é.toml: {left} wrote it: put in your car's\n" if left else ""
    assert read_car(path).notes == tuple(noted.strip().removeprefix("note: ").splitlines())
    status, out, err = run("check", str(path))
    assert (status, err) == (0, noted)
    assert "Odd" not in out
    loads = ("250", "250", "250", "250") if units == "metric" else ("550", "550", "550", "550")
    assert run("weigh", str(path), *loads)[::2] == (0, noted)
    assert run("perches", str(path), *loads)[::2] == (0, noted)
    text = path.read_text(encoding="utf-8").replace("motion_ratio = 0.7 ", "motion_ratio = 0.8 ")
    path.write_text(text, encoding="utf-8")
    assert not any("motion_ratio" in note for note in read_car(path).notes)
    if every:
        assert run("ballast", str(path), *loads)[0] in (0, 1)


def test_init_takes_ten_keys_as_they_are_said(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "blue.toml"
    words = ["--name", "blue one", "--wheelbase", "101 1/4", "--front-spring-rate", "8 kg/mm"]
    more = ["--rear-motion-ratio", "3/4", "--front-perch-lead", "16 tpi"]
    assert run("init", str(path), "--us", *words, *more).status == 0
    car = read_car(path).car
    assert car.name == "blue one"
    assert car.wheelbase == pytest.approx(101.25 * 0.0254)
    assert car.spring_rate[0] == pytest.approx(8 * 9806.65)
    assert car.motion_ratio[2] == 0.75
    assert car.perch_lead[0] == pytest.approx(0.0254 / 16)
    text = path.read_text(encoding="utf-8")
    marked = [line.split(" =")[0] for line in text.splitlines() if "YOUR CAR'S" in line]
    assert marked == ["track", "motion_ratio", "track", "spring_rate", "perch_lead"]


def test_init_asks_within_a_terminal_and_says_that_a_number_was_left(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("balancer.cli.init.somebody_there", lambda: True)
    lines = ["2405", "1420", "1430", "70", "8 kg/mm", "1.47", "0.72", "0.68", "", "1.5"]
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines)))
    monkeypatch.chdir(tmp_path)
    out = run("init", "blue.toml", "--name", "blue").out
    assert max(map(len, out.replace("): ", "):\n").splitlines())) <= 80
    assert "write 0.68" in " ".join(out.split())
    assert out.endswith("Put in your car's numbers, then: balancer check blue.toml\n")


def test_init_refuses_what_is_no_number_all_in_one_go(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    words = ["--rear-track", "1450,5", "--front-motion-ratio", "1.47", "--rear-perch-lead", "-2"]
    ran = run("init", str(path), "--wheelbase", "long", *words)
    assert ran == (
        2,
        "",
        "--wheelbase: “long” is not a number: write it like 2400 (mm)\n"
        "--rear-track: 1450,5 has a decimal comma: write 1450.5\n"
        "--front-motion-ratio: 1.47 looks like wheel travel / spring travel: here it is spring"
        " travel / wheel travel, write 0.68\n"
        "--rear-perch-lead: -2 is negative: leave out the minus sign\n",
    )
    assert not path.exists()
    assert run("init", str(path), "--all", "--name", "x")[:2] == (2, "")


def test_init_names_the_file_itself(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("init")[0] == 0
    assert [path.name for path in tmp_path.iterdir()] == ["car.toml"]


@pytest.mark.parametrize("option", [(), ("--us",)])
def test_init_never_overwrites(option: tuple[str, ...], run: Run, tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_text("my only notes")
    said = f"{path}: is there already: give another name, nothing was written\n"
    assert run("init", str(path), *option) == (2, "", said)
    assert path.read_text() == "my only notes"


def test_init_writes_through_no_link(run: Run, tmp_path: Path) -> None:
    link = tmp_path / "car.toml"
    link.symlink_to(tmp_path / "elsewhere.toml")
    said = f"{link}: is there already: give another name, nothing was written\n"
    assert run("init", str(link)) == (2, "", said)
    assert not (tmp_path / "elsewhere.toml").exists()


def test_init_can_be_read_back_under_any_name(run: Run, tmp_path: Path) -> None:
    for name in ("a\nb.toml", "\udcff.toml", "{units}.toml", "\x1b[31m"):
        path = tmp_path / name
        assert run("init", str(path))[0] == 0
        assert read_car(path).car.name == "my car"


DOCUMENT = '''\
# ]] """ not yet
title = "a # [no] = heading"
"quoted key" = 1
'literal.key' = 'it\\'
dotted.inner . "deep est" = 2   # = 3
"esc\\u0061ped" = 3

many = [
  1, # ] """
  [2, "]"],
]
text = """
[not.a.table]
fake = "x" """
raw = \'\'\'
[[nor.this]]
\'\'\'
inline = { a = 1, b = { c = "}" } }

[ first ]
x = 1
sub.y = [ [1], [
2 ] ]

[first.second."th.ird"]
z = 1979-05-27T07:32:00

[[list]]
name = "one"
[list.below]
deep = true
[[list.nested]]
n = 1
[[list.nested]]
n = 2

[[list]]
name = "two"
[[list.nested]]
n = 3
'''
PLACES: dict[Key, int] = {
    ("title",): 2,
    ("quoted key",): 3,
    ("literal.key",): 4,
    ("dotted",): 5,
    ("dotted", "inner"): 5,
    ("dotted", "inner", "deep est"): 5,
    ("escaped",): 6,
    ("many",): 8,
    ("text",): 12,
    ("raw",): 15,
    ("inline",): 18,
    ("first",): 20,
    ("first", "x"): 21,
    ("first", "sub"): 22,
    ("first", "sub", "y"): 22,
    ("first", "second"): 25,
    ("first", "second", "th.ird"): 25,
    ("first", "second", "th.ird", "z"): 26,
    ("list",): 28,
    ("list", 0): 28,
    ("list", 0, "name"): 29,
    ("list", 0, "below"): 30,
    ("list", 0, "below", "deep"): 31,
    ("list", 0, "nested"): 32,
    ("list", 0, "nested", 0): 32,
    ("list", 0, "nested", 0, "n"): 33,
    ("list", 0, "nested", 1): 34,
    ("list", 0, "nested", 1, "n"): 35,
    ("list", 1): 37,
    ("list", 1, "name"): 38,
    ("list", 1, "nested"): 39,
    ("list", 1, "nested", 0): 39,
    ("list", 1, "nested", 0, "n"): 40,
}


def paths(data: Any, start: Key = ()) -> set[Key]:
    """All key paths of a TOML document, as deep as tables and lists of tables go."""
    found: set[Key] = set()
    items: list[tuple[str | int, Any]] = []
    if isinstance(data, dict):
        items = list(data.items())
    elif isinstance(data, list) and all(isinstance(item, dict) for item in data):
        items = list(enumerate(data))
    for part, value in items:
        found |= {(*start, part)} | paths(value, (*start, part))
    return found


def test_every_key_is_in_its_line() -> None:
    assert locate(DOCUMENT) == PLACES
    inside = {("inline", "a"), ("inline", "b"), ("inline", "b", "c")}
    assert paths(tomllib.loads(DOCUMENT)) == set(PLACES) | inside


@pytest.mark.parametrize("path", [COUPE, ROADSTER, WEIGH_IN], ids=lambda path: path.name)
def test_every_key_of_the_examples_is_in_its_line(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    found = locate(text)
    assert set(found) == paths(tomllib.loads(text))
    for key, line in found.items():
        name = next(str(part) for part in reversed(key) if isinstance(part, str))
        assert name in text.split("\n")[line - 1]


class Line(NamedTuple):
    """A statement of a made-up document, and the keys that it is about."""

    text: str
    keys: tuple[tuple[str, ...], ...]


VALUES = st.sampled_from(
    [
        "1",
        "-0.5e3",
        "true",
        "2026-05-09",
        '"[x] = # {"',
        "'[[y]] = \"'",
        '"\\"]"',
        "[1, 2]",
        "[\n  1, # ]\n  2\n]",
        '["]", "#"]',
        "[[1], [\n2]]",
        '"""\n[table]\nkey = 1\n"""',
        "'''\n[[table]] \"\"\"\n'''",
        '""" "" """',
        '"""x"""""',
    ]
)
NAMES = st.sampled_from(["a", "b-c", "D_1", '"e f"', "'g.h'", '"[i]"', '"#"', "7"])
FILLERS = st.sampled_from(["", "# remark = 1", "\t# [remark]", '   # """', "# '''", "#["])


def plain(name: str) -> str:
    return name.strip("\"'")


@st.composite
def documents(draw: st.DrawFn) -> tuple[str, dict[Key, int]]:
    """Make a document, and the lines that its keys are in."""
    lines: list[str] = []
    places: dict[Key, int] = {}

    def add(text: str, *keys: Key) -> None:
        for key in keys:
            places.setdefault(key, 1 + sum(1 + line.count("\n") for line in lines))
        lines.append(text)

    def fill(table: Key) -> None:
        for name in draw(st.lists(NAMES, unique=True, max_size=4)):
            lines.extend(draw(st.lists(FILLERS, max_size=2)))
            blank = draw(st.sampled_from(["", " ", "\t"]))
            value, tail = draw(VALUES), draw(st.sampled_from(["", "  # end", "#]"]))
            if draw(st.booleans()):
                add(f"{blank}{name}{blank}={blank}{value}{tail}", (*table, plain(name)))
            else:
                key = (*table, plain(name))
                add(f"{blank}{name}{blank}.{blank}in = {value}{tail}", key, (*key, "in"))

    fill(())
    for number in range(draw(st.integers(0, 3))):
        name = draw(NAMES)
        top = f"t{number}"
        if draw(st.booleans()):
            add(f"[{top}.{name}] # ]", (top,), (top, plain(name)))
            fill((top, plain(name)))
        else:
            for count in range(draw(st.integers(1, 3))):
                add(f"[[ {top} ]]", (top,), (top, count))
                fill((top, count))
                if draw(st.booleans()):
                    add(f"[{top}.sub]", (top, count, "sub"))
                    fill((top, count, "sub"))
    return "\n".join(lines), places


@given(documents())
def test_every_key_of_any_document_is_in_its_line(made: tuple[str, dict[Key, int]]) -> None:
    text, places = made
    assert paths(tomllib.loads(text)) == set(places)
    assert locate(text) == places


def accepts(schema: dict[str, Any], value: Any) -> bool:
    """Hold a value against the part of JSON Schema that the schemas here use."""
    known = {"$schema", "title", "description", "type", "enum", "oneOf", "anyOf", "maxLength"}
    known |= {"items", "minItems", "maxItems", "minimum", "maximum", "default"}
    known |= {"properties", "required", "additionalProperties", "const"}
    assert set(schema) <= known, f"the test knows nothing of {set(schema) - known}"
    for word, least in (("oneOf", 1), ("anyOf", 1)):
        if word in schema:
            count = sum(accepts(one, value) for one in schema[word])
            if count < least or (word == "oneOf" and count > 1):
                return False
    kinds: dict[str, type | tuple[type, ...]] = {
        "object": dict,
        "array": list,
        "string": str,
        "boolean": bool,
        "integer": int,
        "number": (int, float),
    }
    named = schema.get("type", [])
    types = [named] if isinstance(named, str) else named
    if types and not any(isinstance(value, kinds[name]) for name in types):
        return False
    if isinstance(value, bool) and types and "boolean" not in types:
        return False
    if value not in schema.get("enum", [value]):
        return False
    if isinstance(value, str):
        return bool(len(value) <= schema.get("maxLength", 10**9))
    if isinstance(value, int | float):
        return bool(schema.get("minimum", value) <= value <= schema.get("maximum", value))
    if isinstance(value, list):
        fits = schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", 10**9)
        return fits and all(accepts(schema.get("items", {}), one) for one in value)
    if isinstance(value, dict):
        properties = schema.get("properties", {})
        if schema.get("additionalProperties") is False and not set(value) <= set(properties):
            return False
        return set(schema.get("required", [])) <= set(value) and all(
            accepts(properties.get(key, {}), one) for key, one in value.items()
        )
    return True


@pytest.mark.parametrize("path", [COUPE, ROADSTER], ids=lambda path: path.name)
def test_the_schema_accepts_the_cars(path: Path) -> None:
    schema = json_schema()
    car = tomllib.loads(path.read_text(encoding="utf-8"))
    assert accepts(schema, car)
    for table in (car, car["front"], car["on_board"][0], car["place"][0]):
        table["paint"] = "blue"
        assert not accepts(schema, car)
        del table["paint"]
    for table, key, wrong in (
        (car, "units", "imperial"),
        (car, "wheelbase", [2405]),
        (car["front"], "perch_travel", [1, 2, 3]),
        (car["front"], "perch_step", [0.25]),
        (car["class"], "front_pct", True),
        (car["place"][0], "aft", [1]),
        (car, "place", {}),
    ):
        right, table[key] = table[key], wrong
        assert not accepts(schema, car), key
        table[key] = right
    assert accepts(schema, car)
    for key in ("name", "units", "wheelbase", "front", "rear"):
        assert not accepts(schema, {one: car[one] for one in car if one != key})


@pytest.mark.parametrize("name", ["real.toml", "formula.toml"])
def test_the_schema_accepts_cars_with_real_corners(name: str) -> None:
    schema = json_schema()
    car = tomllib.loads((GARAGE / name).read_text(encoding="utf-8"))
    assert accepts(schema, car)
    for table, key, wrong in (
        (car["front"], "spring_rate", [38, 52]),
        (car["front"], "spring_rate", [[0, 38, 1]]),
        (car["front"], "spring_rate", [[0, "38"]]),
        (car["front"], "motion_ratio", []),
        (car["front"], "motion_ratio", [{"at": 0}]),
        (car["rear"], "bar_connected", 0),
        (car["front"], "link_travel", [4]),
        (car["front"], "mount_step", [0.5]),
        (car["rear"], "tender_rate", True),
    ):
        right, table[key] = table[key], wrong
        assert not accepts(schema, car), key
        table[key] = right
    for key in ("bar_connected", "link_ratio", "link_lead", "anti_roll_bar"):
        assert not accepts(schema, {**car, "RF": {key: car["front"].get(key, False)}}), key
    assert accepts(schema, car)


def test_the_schema_accepts_the_readings() -> None:
    schema = json_schema("readings")
    readings = tomllib.loads(WEIGH_IN.read_text(encoding="utf-8"))
    assert accepts(schema, readings)
    assert not accepts(schema, {**readings, "readings": [[1, 2, 3]]})
    assert not accepts(schema, {**readings, "notes": ""})


@pytest.mark.parametrize("which", ["car", "readings", "pads"])
def test_the_schema_names_its_draft_and_explains_each_key(which: str, run: Run) -> None:
    status, out, err = run("schema", which)
    assert (status, err) == (0, "")
    schema = json.loads(out)
    assert schema == json_schema(which)  # type: ignore[arg-type]
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert all(one["description"] for one in schema["properties"].values())
    assert schema["additionalProperties"] is False


def test_schema_takes_the_car_when_not_told(run: Run) -> None:
    assert run("schema") == run("schema", "car")


def test_every_car_of_the_examples_is_read_without_a_note() -> None:
    """A car file that nobody reads may rot."""
    for path in sorted((ROOT / "examples").glob("*.toml")):
        data = tomllib.loads(path.read_text(encoding="utf-8"))
        if "wheelbase" in data:
            assert read_car(path).notes == (), path.name


@pytest.mark.parametrize(
    ("keys", "model", "by_hand"),
    [
        (BODY_FIELDS, Car.__dataclass_fields__, set()),
        (CLASS_FIELDS, Rules._fields, set()),
        (SCALES_FIELDS, Scales._fields, set()),
        (PLACE_FIELDS, Place._fields, set()),
        (PIECE_FIELDS, Piece._fields, set()),
        (RACE_TRIM_FIELDS, RaceTrim._fields, set()),
        (TARGET_FIELDS, Target._fields, set()),
        (ITEM_FIELDS, Item._fields, {"volume"}),
    ],
)
def test_a_key_is_a_field_of_the_model(
    keys: dict[str, Any], model: Iterable[str], by_hand: set[str]
) -> None:
    """Tables are read by name: a key without its field would be refused when a file has it."""
    assert {key.removesuffix("_pct") for key in keys} - set(model) == by_hand
