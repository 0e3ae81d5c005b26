"""`balancer torsion`: what it says of the shipped coupe, and of input that can't be."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from balancer.car.linear import lift, load_change
from balancer.files.car_reader import read_car
from balancer.files.units import METRIC
from tests.cli.conftest import Run
from tests.conftest import COUPE, ROADSTER, ROOT

CAR, BEFORE, AFTER = (f"examples/{name}.toml" for name in ("coupe", "weigh_in", "weigh_in_turned"))
PAIR = f"torsion {CAR} {BEFORE} {AFTER}"
TURNS = "--made LF=3 --made RF=-3 --made LR=-3 --made RR=3"


@pytest.fixture
def away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in a folder that has the examples and nothing else."""
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def write_pair(folder: Path, stiffness: float, turns: list[float]) -> None:
    """Write perfect weigh-ins of the coupe with another chassis [N·m/deg]: a.toml, b.toml, …"""
    car = read_car(COUPE).car
    true = replace(car, torsional_stiffness=METRIC.to_si(stiffness, "torsion"))
    loads = np.array([302.0, 288.5, 231.0, 244.0])
    made = car.perch_lead * np.array(turns)
    change = load_change(true, lift(true, made)) / METRIC.factors["load"]
    for name, four in (("a", loads), ("b", loads + change), ("c", loads)):
        (folder / f"{name}.toml").write_text(f"readings = [{four.tolist()}]\n", encoding="utf-8")


def test_json(run: Run) -> None:
    ran = run(f"{PAIR} {TURNS} --json")
    assert (ran.status, ran.err) == (0, "")
    found = ran.json
    assert found["status"] == "at_least"
    low, high = found["interval"]["low"], found["interval"]["high"]
    # The example's shell was drawn with 4700 N·m/deg.
    assert low < 4700
    assert low < found["torsional_stiffness"]
    assert high is None
    assert found["in_file"] == 5200
    assert found["strange"] == []
    causes = found["uncertainty_from"]
    assert found["doubt_from"] == causes
    assert set(causes) == {"scales", "turns", "rates"}
    assert found["uncertainty"]["share_pct"] == pytest.approx(np.linalg.norm(list(causes.values())))
    assert found["share_pct"] == pytest.approx(100 - found["answer_pct"], abs=1e-9)


def test_one_made_or_four_is_the_same(run: Run) -> None:
    assert run(f'{PAIR} --made "LF=3 RF=-3 LR=-3 RR=3"') == run(f"{PAIR} {TURNS}")
    assert run(f'{PAIR} --made "lf=3 rf=−3 LR=-3 RR=+3"') == run(f"{PAIR} {TURNS}")


@pytest.mark.parametrize("stiffness", [1500.0, 4000.0])
def test_perfect_readings_give_the_stiffness_back(stiffness: float, away: Path, run: Run) -> None:
    write_pair(away, stiffness, [2, -2, 0, 1])
    made = '--made "LF=2 RF=-2 RR=1"'
    found = run(f"torsion {CAR} a.toml b.toml {made} --json").json
    assert found["torsional_stiffness"] == pytest.approx(stiffness, rel=1e-6)
    back = '--made "LF=-2 RF=2 RR=-1"'
    again = run(f"torsion {CAR} a.toml b.toml c.toml {made} {back} --json").json
    assert again["torsional_stiffness"] == pytest.approx(stiffness, rel=1e-6)
    assert again["uncertainty"]["share_pct"] < found["uncertainty"]["share_pct"]


def test_text_fits_and_says_the_interval(run: Run) -> None:
    ran = run(f"{PAIR} {TURNS} --rates-trusted 0.5")
    assert (ran.status, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= 80
    assert "90 % interval" in ran.out
    assert "The car file says 5200: within the interval." in ran.out
    assert "trusted to 0.5 %" in ran.out


def test_a_chassis_that_may_be_rigid_has_no_upper_end(away: Path, run: Run) -> None:
    write_pair(away, 40_000, [2, -2, -2, 2])
    line = f"torsion {CAR} a.toml b.toml --made 'LF=2 RF=-2 LR=-2 RR=2'"
    found = run(f"{line} --json").json
    assert (found["status"], found["interval"]["high"]) == ("at_least", None)
    assert 1000 < found["interval"]["low"] < 40_000
    text = run(line)
    assert text.status == 0
    assert "at least" in text.out
    assert "no upper end" in text.out


@pytest.mark.parametrize(
    ("made", "status", "words"),
    [
        ("LF=-3 RF=3 LR=3 RR=-3", "contradiction", "They went against the turns"),
        ("LF=1 RF=-1 LR=-2 RR=2", "contradiction", "can't be right"),
    ],
)
def test_what_can_not_be_ends_with_one(made: str, status: str, words: str, run: Run) -> None:
    ran = run(f'{PAIR} --made "{made}"')
    assert ran.status == 1
    assert words in " ".join(ran.out.split())
    found = run(f'{PAIR} --made "{made}" --json')
    assert (found.status, found.json["status"]) == (1, status)
    assert found.json["torsional_stiffness"] is found.json["interval"]["low"] is None


def test_an_answer_lost_in_its_uncertainty(run: Run) -> None:
    ran = run(f"torsion {CAR} {BEFORE} {BEFORE} --made LF=0.25 --json")
    assert (ran.status, ran.json["status"]) == (1, "unclear")
    assert ran.json["uncertainty"]["share_pct"] is None


def test_something_else_that_changed_is_asked_about(run: Run, away: Path) -> None:
    path = away / AFTER
    path.write_text(path.read_text(encoding="utf-8").replace("213", "223"), encoding="utf-8")
    text = " ".join(run(f"{PAIR} {TURNS}").out.split())
    assert "After set 1 the pads changed as no turn makes them" in text


def test_a_kart_and_other_units(away: Path, run: Run) -> None:
    (away / "a.toml").write_text("readings = [[40.1, 36.8, 45.2, 47.6]]\n", encoding="utf-8")
    (away / "b.toml").write_text("readings = [[41.7, 35.2, 43.7, 49.1]]\n", encoding="utf-8")
    found = run("torsion examples/kart.toml a.toml b.toml --made 'LF=1 RR=1' --json").json
    assert found["status"] == "found"
    assert 40 < found["torsional_stiffness"] < 200
    (away / "a.toml").write_text("readings = [[640, 610, 555, 580]]\n", encoding="utf-8")
    (away / "b.toml").write_text("readings = [[664, 586, 531, 604]]\n", encoding="utf-8")
    made = "--made 'LF=2 RF=-2 LR=-2 RR=2'"
    ran = run(f"torsion {ROADSTER} a.toml b.toml {made}")
    assert ran.status == 0
    assert "lb·ft/deg" in ran.out


FAULTS = [
    ("torsion", None),
    (
        f"torsion {CAR} {BEFORE}",
        "BEFORE AFTER: got 1: give two readings files or more\n"
        "--made: is missing: say what was turned: --made LF=2 --made RR=2\n",
    ),
    (
        f"{PAIR} --made LF=2x --made FL=3",
        "--made LF: “x” is not a unit for this: known here: turn\n"
        "--made: “FL=3” is not CORNER=TURNS: write LF=-0.75\n",
    ),
    (f"{PAIR} --made LF=2 --made LF=1", "--made LF: is there twice: give each corner once\n"),
    (
        f'{PAIR} --made "LF=2 front link=1"',
        "--made front link: is no perch: turn perches alone\n",
    ),
    (
        f"{PAIR} --made LF=1 --made RF=1 --rates-trusted 60",
        "--rates-trusted: 60 is out of range: expected 0 to 50\n"
        "--made: does not twist the car, so it tells nothing: turn one corner, or LF and RR up"
        " and RF and LR down\n",
    ),
    (
        f"{PAIR} --made nothing",
        "--made: does not twist the car, so it tells nothing: turn one corner, or LF and RR up"
        " and RF and LR down\n",
    ),
    (
        f"{PAIR} {BEFORE} --made LF=1",
        '--made: got 1 for 2 sets of turns: give one a re-weigh: --made "LF=2 RR=2"\n',
    ),
    (
        f"torsion {CAR} {BEFORE} nowhere.toml --made LF=1",
        "nowhere.toml: no such file: check the name and the folder\n",
    ),
    (
        f"torsion nowhere.toml {BEFORE} {AFTER} --made LF=1 --rates-trusted nan",
        "--rates-trusted: nan is not a number: write a number, 0 to 50\n"
        "nowhere.toml: no such file: check the name and the folder\n",
    ),
]


@pytest.mark.parametrize(("line", "err"), FAULTS)
def test_faults(line: str, err: str | None, run: Run) -> None:
    status, out, found = run(line)
    assert (status, out) == (2, "")
    assert found == err or (err is None and found.count("\n") == 1)


def test_another_state_is_a_fault(away: Path, run: Run) -> None:
    path = away / AFTER
    path.write_text(path.read_text(encoding="utf-8").replace("fuel=6", "fuel=12"), encoding="utf-8")
    ran = run(f"{PAIR} {TURNS}")
    line = "on_board: is not the same: driver, fuel=12 and driver, fuel=6: weigh with the same"
    assert (ran.status, ran.err) == (2, f"{line} on board\n")


def test_a_corner_without_a_perch_is_a_fault(away: Path, run: Run) -> None:
    text = COUPE.read_text(encoding="utf-8")
    front = text.index("perch_lead")
    cut = text[:front] + text[text.index("[rear]") :]
    (away / CAR).write_text(cut, encoding="utf-8")
    ran = run(f"{PAIR} --made LF=1 --made RR=1")
    assert (ran.status, ran.err) == (
        2,
        "--made LF: has no threaded perch: give its perch_lead\n",
    )


def test_pads_at_other_heights_are_noted(away: Path, run: Run) -> None:
    path = away / AFTER
    path.write_text(path.read_text(encoding="utf-8").replace("0.5, 1.0", "0.5, 1.5"), "utf-8")
    assert run(f"{PAIR} {TURNS}").err.startswith("note: pad heights differ")
