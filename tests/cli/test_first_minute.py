"""The first answer: four numbers without a file, and a car file that knows nothing of springs."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.conftest import ROOT

TYPED = "302 288.5 231 244"
SPRINGLESS = """
name = "shop coupe"
units = "metric"
wheelbase = 2405
[front]
track = 1450
[rear]
track = 1430
[[on_board]]
name = "driver"
mass = 78
aft = 1420
left = 340
[class]
minimum = 1080
weighed_with = ["driver"]
[[place]]
name = "floor"
aft = [1050, 1450]
left = [-520, -220]
"""


@pytest.fixture
def car(garage: Path) -> Path:
    path = garage / "shop.toml"
    path.write_text(SPRINGLESS, encoding="utf-8")
    return path


def test_four_numbers_and_their_units_are_enough(run: Run) -> None:
    ran = run(f"weigh {TYPED} --units metric --json")
    assert ran.status == 0
    assert ran.json["total"] == pytest.approx(1065.5)
    assert ran.json["cross_pct"] == pytest.approx(100 * (288.5 + 231) / 1065.5)
    assert ran.json["cg"] == {"aft": None, "left": None}
    told = run(f"weigh {TYPED} --units metric").out
    assert "are assumed" in told
    assert "center" not in told


def test_the_center_is_told_as_far_as_it_is_known(run: Run) -> None:
    known = run(f"weigh {TYPED} --units metric --wheelbase 2405 --json").json["cg"]
    assert known["aft"] == pytest.approx(2405 * (231 + 244) / 1065.5)
    assert known["left"] is None
    both = f"weigh {TYPED} --units metric --wheelbase 2405 --track 1450 --track 1430 --json"
    left = (725 * (302 - 288.5) + 715 * (231 - 244)) / 1065.5
    assert run(both).json["cg"]["left"] == pytest.approx(left)


def test_units_behind_the_numbers_do_as_well(run: Run) -> None:
    assert run("weigh 652lb 604 473 492 --json").json["units"] == "us"
    mixed = run("weigh 652lb 604kg 473 492")
    assert run(f"weigh {TYPED} --units lbs --json").json["units"] == "us"
    assert run(f"weigh {TYPED} --units KG --json").json["units"] == "metric"
    assert mixed[:2] == (2, "")
    assert mixed.err == "units: are kg and lb, mm and in mixed: say which, with --units\n"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (f"weigh {TYPED}", "--units: is missing: say --units metric (kg) or us (lb)"),
        ("weigh 302 288.5 231 --units metric", "readings: got 3 numbers: give four: LF RF LR RR"),
        (f"weigh coupe.toml {TYPED} --track 1400", "--track: given beside a car file"),
        (f"weigh {TYPED} --units us --wheelbase 0", "--wheelbase: 0 is out of range"),
        (f"weigh {TYPED} --units us --track 9 --track 9 --track 9", "--track: 9 is out of range"),
        (f"weigh {TYPED} --units stone", "--units: “stone” names no units: say metric (kg, mm)"),
        (f"perches {TYPED}", "CAR: 302 is a number: the car file comes first"),
    ],
)
def test_slips(line: str, said: str, run: Run, garage: Path) -> None:
    ran = run(line)
    assert ran[:2] == (2, "")
    assert said in ran.err


def test_a_car_without_springs_weighs_trims_compares_and_takes_ballast(run: Run, car: Path) -> None:
    for line in (
        f"weigh {car} {TYPED}",
        f"trim {car} {TYPED} --to none",
        f"ballast {car} {TYPED}",
        f"check {car}",
    ):
        assert run(line).status == 0, line
    assert "No springs: good for weigh, trim" in run(f"check {car}").out
    means = run(f"check {car} --json").json
    assert set(means["frequency_hz"].values()) == {None}
    empty = run(f"trim {car} {TYPED} --to none --json").json
    # The driver's share of front and left is statics alone.
    assert empty["total"] == pytest.approx(1065.5 - 78)
    front = (302 + 288.5 - 78 * (1 - 1420 / 2405)) / (1065.5 - 78)
    assert empty["front_pct"] == pytest.approx(100 * front)


@pytest.mark.parametrize("command", ["perches", "session", "prep", "springs", "sheet"])
def test_what_needs_springs_asks_for_them_all_at_once(run: Run, car: Path, command: str) -> None:
    more = {"session": "", "sheet": f" {TYPED} --output page.html"}.get(command, f" {TYPED}")
    ran = run(f"{command} {car}{more}")
    assert ran[:2] == (2, "")
    for key in ("front.spring_rate", "front.motion_ratio", "rear.spring_rate"):
        assert f"{key}: is missing" in ran.err
    assert ("front.perch_lead: is missing" in ran.err) == (command == "perches")
    assert not list(car.parent.glob("shop.log*"))


def test_a_kart_without_tire_rates_is_such_a_car(run: Run, garage: Path) -> None:
    text = (ROOT / "examples" / "kart.toml").read_text(encoding="utf-8")
    lines = [line for line in text.split("\n") if not line.startswith(("tire_", "torsional"))]
    (garage / "kart.toml").write_text("\n".join(lines), encoding="utf-8")
    assert run(f"weigh kart.toml {TYPED}").status == 0
    assert "front.spring_rate: is missing" in run(f"perches kart.toml {TYPED}").err


def test_rates_that_no_car_has_are_a_fault(run: Run, garage: Path) -> None:
    text = (garage / "coupe.toml").read_text(encoding="utf-8")
    path = garage / "odd.toml"
    path.write_text(text.replace("spring_rate = 70", "spring_rate = 8"), encoding="utf-8")
    ran = run(f"perches odd.toml {TYPED}")
    assert ran[:2] == (2, "")
    assert ran.err.startswith("odd.toml:9: front.spring_rate: 8 N/mm lets LF bounce at")
    assert 'write "8 kg/mm"' in ran.err
    assert run(f"weigh odd.toml {TYPED}").status == 0
