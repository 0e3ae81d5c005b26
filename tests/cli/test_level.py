"""How level the pads stand, in what commands say: two uncertainties of the cross weight."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.cli.conftest import Run

TYPED = "302 288.5 231 244"


def said(garage: Path, old: str, new: str) -> str:
    text = (garage / "coupe.toml").read_text()
    assert old in text
    (garage / "car.toml").write_text(text.replace(old, new, 1))
    return f"car.toml {TYPED}"


def test_a_millimeter_is_worth_what_check_says(run: Run, garage: Path) -> None:
    weighed = run(f"weigh coupe.toml {TYPED} --json").json
    checked = run(f"check coupe.toml {TYPED} --json").json["cross_pct_per_mm_of_pad"]
    worth = weighed["cross_pct_per_mm_of_pad"]
    assert worth == pytest.approx(max(map(abs, checked.values())), rel=1e-2)
    assert (weighed["level"], weighed["level_assumed"]) == (1.0, True)
    told = " ".join(run(f"weigh coupe.toml {TYPED}").out.split())
    assert f"1 mm under one wheel is worth {worth:.2f} points of cross weight on this car" in told
    assert "± 1.0 mm each (common practice, no published source: say [scales] level)" in told
    known = weighed["repeatable"]["cross_pct"], weighed["uncertainty"]["cross_pct"]
    assert f"cross weight 48.8 % ± {known[0]:.2f} ± {known[1]:.2f}" in told


def test_a_level_that_is_said_is_no_assumption(run: Run, garage: Path) -> None:
    words = said(garage, "[scales]", "[scales]\nlevel = 0.2")
    found = run(f"weigh {words} --json").json
    assert (found["level"], found["level_assumed"]) == (0.2, False)
    assert found["uncertainty"]["cross_pct"] < 0.1
    told = " ".join(run(f"check {words}").out.split())
    assert "The pads are level to ± 0.2 mm each, as [scales] says." in told
    refused = run(f"weigh {said(garage, '[scales]', '[scales]' + chr(10) + 'level = 80')}")
    assert refused.status == 2
    assert "scales.level: " in refused.err


def test_measured_heights_are_what_is_not_sure_then(run: Run, garage: Path) -> None:
    told = " ".join(run("weigh coupe.toml --readings weigh_in.toml").out.split())
    assert "the heights of the pads are taken as known to ± 1.0 mm each" in told


def test_without_springs_it_cannot_be_told(run: Run, garage: Path) -> None:
    bare = f"weigh {TYPED} --units metric --wheelbase 2405 --track 1450"
    found = run(f"{bare} --json").json
    assert found["cross_pct_per_mm_of_pad"] is None
    assert found["uncertainty"]["cross_pct"] < 0.1
    told = " ".join(run(bare).out.split())
    assert re.search(r"cross weight 48\.8 % ± 0\.0\d not known", told)
    assert "can't be told without springs and motion ratios" in told


@pytest.mark.parametrize(("level", "missed"), [("0", False), ("1", True)])
def test_a_band_of_the_class_counts_the_floor(
    level: str, missed: bool, run: Run, garage: Path
) -> None:
    """Bands are judged on another scale, so on another floor: 0.3 points inside is not enough."""
    words = said(garage, "[class]", "[class]\ncross_pct = [49.7, 50.3]")
    text = (garage / "car.toml").read_text().replace("[scales]", f"[scales]\nlevel = {level}")
    (garage / "car.toml").write_text(text)
    rules = run(f"prep {words} --json").json["rules"]
    chances = [rule["chance_pct"] for rule in rules if rule["rule"].startswith("cross weight")]
    assert (max(chances) > 5) is missed


def test_plans_and_the_sheet_say_both(run: Run, garage: Path) -> None:
    plan = run(f"perches coupe.toml {TYPED} --json").json
    assert plan["repeatable"]["cross_pct"] < 0.06 < 0.2 < plan["uncertainty"]["cross_pct"]
    ratio = plan["uncertainty"]["cross_pct"] / plan["repeatable"]["cross_pct"]
    assert plan["uncertainty"]["turns"] == pytest.approx(ratio * plan["repeatable"]["turns"])
    both = f"± {plan['repeatable']['cross_pct']:.2f} on these pads"
    assert both in " ".join(run(f"perches coupe.toml {TYPED}").out.split())
    assert run(f"sheet coupe.toml {TYPED} --output sheet.html").status in (0, 1)
    page = Path("sheet.html").read_text()
    assert "on these pads, ± " in page
    assert "1 mm under one wheel is worth" in page
