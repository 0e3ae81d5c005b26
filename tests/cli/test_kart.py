"""A car without springs from the command line: what it says, in text and JSON, and its faults."""

from __future__ import annotations

import io
import json
import math
import re
import shutil
import sys
from pathlib import Path

import pytest

from balancer.files.car_reader import read_car
from balancer.files.json_schema import json_schema
from tests.cli.conftest import Run
from tests.conftest import ROOT

READ = "40.1 36.8 45.2 47.6"


@pytest.fixture
def kart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in a folder with kart.toml alone."""
    monkeypatch.chdir(tmp_path)
    return Path(shutil.copy(ROOT / "examples" / "kart.toml", tmp_path / "kart.toml"))


def edit(path: Path, *changes: tuple[str, str]) -> None:
    """Replace lines of a car file, each wherever it stands."""
    lines = path.read_text(encoding="utf-8").splitlines()
    for old, new in changes:
        assert any(line.startswith(old) for line in lines), old
        lines = [new if line.startswith(old) else line for line in lines]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_a_solid_axle_is_read(kart: Path) -> None:
    car = read_car(kart).car
    assert car.solid.all()
    assert (car.motion_ratio == 1).all()
    assert (car.perch_step == 1).all()
    edit(kart, ("wheelbase", "wheelbase = 1050\n[RR]\nperch_step = 0.5"))
    assert read_car(kart).car.perch_step.tolist() == [1, 1, 1, 0.5]


def test_check(kart: Path, run: Run) -> None:
    ran = run(f"check kart.toml {READ} --json")
    assert (ran.status, ran.err) == (0, "")
    found = ran.json
    assert set(found["wheel_rate"].values()) == {None}
    assert found["ride_rate"] == {"LF": 110.0, "RF": 110.0, "LR": 125.0, "RR": 125.0}
    assert found["frequency_hz"]["LF"] == pytest.approx(math.sqrt(110e3 / 40.1) / 2 / math.pi)
    assert found["notes"] == []
    text = run(f"check kart.toml {READ}").out
    assert text.count("unsprung") == 4
    assert "One spacer in at" in text
    assert "(loads assumed: 1000.0 kg in all)" in run("check kart.toml").out
    assert "No springs: only tires and chassis give way; turns are spacers." in text


def test_rigid_tires_leave_no_rate_at_all(kart: Path, run: Run) -> None:
    edit(kart, ("tire_rate", ""))
    found = run(f"check kart.toml {READ} --json").json
    assert set(found["ride_rate"].values()) == set(found["frequency_hz"].values()) == {None}
    # Nothing but the frame gives way: one spacer of 2 mm warps it by 2/1140 rad.
    warp = 0.002 / 1.14 * 90 * 180 / math.pi / 1.14 / 9.80665
    assert 0.9 * warp < found["per_turn"]["LR"]["load"] < warp, "and it leans away from the spacer"
    edit(kart, ("cg_up = 260", ""))
    found = run(f"check kart.toml {READ} --json").json
    assert found["per_turn"]["LR"]["load"] == pytest.approx(warp)
    assert run(f"perches kart.toml {READ} --cross 50").status in (0, 1)


def test_perches_speak_of_spacers(kart: Path, run: Run) -> None:
    ran = run(f"perches kart.toml {READ} --cross 50 --height-tolerance 5")
    assert (ran.status, ran.err) == (0, "")
    assert "spacer" in ran.out
    assert "One spacer in at" in ran.out
    assert "at the wheel" not in ran.out
    found = run(f"perches kart.toml {READ} --cross 50 --height-tolerance 5 --json").json
    assert found["status"] == "reached"
    assert all(float(turns).is_integer() for turns in found["turns"].values())
    (line,) = [one for one in ran.out.splitlines() if one.startswith("  LF:")] or [""]
    if turns := found["turns"]["LF"]:
        assert f"({'−' if turns < 0 else '+'}{abs(1.5 * turns):.1f} mm)" in line


@pytest.mark.parametrize(
    "command",
    [
        "weigh", "perches --cross 50", "prep", "ballast --front 46", "trim --to none",
        "perches --equal-fronts", "check",
    ],
)  # fmt: skip
@pytest.mark.parametrize("tires", [True, False], ids=["tires", "rigid tires"])
def test_json_has_neither_nan_nor_infinity(command: str, tires: bool, kart: Path, run: Run) -> None:
    if not tires:
        edit(kart, ("tire_rate", ""))
    with kart.open("a", encoding="utf-8") as file:
        file.write('[[place]]\nname = "seat stay"\naft = 700\nleft = -200\nup = 150\nmost = 10\n')
    name, _, rest = command.partition(" ")
    ran = run(f"{name} kart.toml {READ} {rest} --json")
    assert ran.status in (0, 1), ran.err
    assert "nan" not in ran.out.lower()
    assert "infinity" not in ran.out.lower()
    json.loads(ran.out)
    assert run(f"{name} kart.toml {READ} {rest}").status == ran.status


def test_the_sheet(kart: Path, run: Run) -> None:
    assert run("sheet kart.toml 42 34 43 50 --output kart.html").status in (0, 1)
    page = Path("kart.html").read_text(encoding="utf-8").lower()
    assert not re.search(r"[^a-z](nan|inf)[^a-z]", page)


def test_a_session_learns_the_compliance_alone(
    kart: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    # LF and RR a spacer each: nᵀd = 1.5/1.08 + 2/1.14 mm/m; the file has 7.0 kg/m of it, here 4.9.
    lines = [READ, "made LF=1 RR=1", "41.7 35.2 43.68 49.12", "made nothing", "done"]
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(lines) + "\n"))
    ran = run("session kart.toml --cross 50 --json")
    assert ran.status == 0, ran.err
    answers = [json.loads(line) for line in ran.out.splitlines()][1:]
    belief = answers[2]["belief"]
    assert belief["motion_ratio"] == {"front": None, "rear": None}
    assert belief["uncertainty"]["front"] is belief["uncertainty"]["rear"] is None
    assert belief["compliance"] == pytest.approx(1 / belief["answer"], rel=1e-4)
    prior = answers[0]["belief"]["uncertainty"]["compliance"]
    assert 0 < belief["uncertainty"]["compliance"] < prior
    assert belief["compliance"] != pytest.approx(1, abs=0.02)
    learned = run("learned kart.toml --json").json
    assert learned["proposal"]["front"] == {"motion_ratio": None, "spring_rate": None}
    assert "Tires and frame together give way" in run("learned kart.toml").out


def test_one_axle_with_springs_learns_its_motion_ratio(
    kart: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    edit(kart, ("track = 1080", "track = 1080\nspring_rate = 40\nmotion_ratio = 0.8"))
    lines = [READ, "made LF=1 RR=1", "41.0 35.9 44.4 48.4", "done"]
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(lines) + "\n"))
    ran = run("session kart.toml --cross 50 --json")
    assert ran.status == 0
    note = (
        "note: kart.toml:17: rear: no spring_rate and no motion_ratio:"
        " taken as unsprung, as on a kart"
    )
    assert run("check kart.toml").err.startswith(note)
    belief = json.loads(ran.out.splitlines()[3])["belief"]
    assert belief["motion_ratio"]["rear"] is None
    assert belief["motion_ratio"]["front"] != pytest.approx(0.8, abs=1e-4)
    text = run("learned kart.toml").out
    assert "front motion_ratio" in text
    assert "rear motion_ratio" not in text
    table = run(f"perches kart.toml {READ}").out
    assert "One turn up (spacer in) at" in table


FAULTS = [
    pytest.param(
        [("track = 1080", "track = 1080\nspring_rate = 40")],
        ["kart.toml:8: front.motion_ratio: is missing: add it: spring travel / wheel travel"],
        id="only the rate",
    ),
    pytest.param(
        [("track = 1140", "track = 1140\nmotion_ratio = 0.8")],
        ["kart.toml:15: rear.spring_rate: is missing: add it: spring rate"],
        id="only the ratio",
    ),
    pytest.param(
        [("wheelbase", "wheelbase = 1050\n[LF]\nspring_rate = 40\nmotion_ratio = 0.8")],
        [
            "kart.toml:11: front.spring_rate: is missing: add it: spring rate",
            "kart.toml:11: front.motion_ratio: is missing: add it: spring travel / wheel travel",
        ],
        id="springs at one corner alone",
    ),
    pytest.param(
        [("track = 1140", "track = 1140\nsping_rate = 60\nmotion_ratio = 0.8")],
        ["kart.toml:17: rear.sping_rate: unknown key: did you mean spring_rate?"],
        id="a rate misspelled is no unsprung axle",
    ),
]


@pytest.mark.parametrize(("changes", "lines"), FAULTS)
def test_faults(changes: list[tuple[str, str]], lines: list[str], kart: Path, run: Run) -> None:
    edit(kart, *changes)
    assert run("check kart.toml") == (2, "", "\n".join(lines) + "\n")


def test_what_is_odd_is_noted(kart: Path, run: Run) -> None:
    edit(kart, ("track = 1080", "track = 1080\nanti_roll_bar = 20"))
    ran = run("check kart.toml")
    note = "note: kart.toml:10: front.anti_roll_bar: does nothing on an axle without springs\n"
    assert (ran.status, ran.err) == (0, note)


def test_the_schema_asks_for_neither(kart: Path) -> None:
    text = json.dumps(json_schema("car"))
    assert "an unsprung axle" in text
