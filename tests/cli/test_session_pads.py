"""Sessions on pads that are not level, and ride heights said to a session."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from balancer.car.statics import statics_of
from balancer.files.car_reader import read_car
from balancer.files.units import METRIC
from balancer.log.reader import read_log
from tests.cli.conftest import Run
from tests.cli.test_session import FIRST, HATCH, LOG, Sit, after

PADS = "0 0 3 1"


@pytest.fixture
def sit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Run) -> Sit:
    (tmp_path / "hatch.toml").write_text(HATCH)
    monkeypatch.chdir(tmp_path)
    return Sit(run, monkeypatch)


def uneven(line: str, pads: str = PADS) -> str:
    """Say what pads of these heights [mm] show where level ones would show this."""
    loads = np.array([METRIC.to_si(float(word), "load") for word in line.split()])
    heights = np.array([float(word) / 1e3 for word in pads.split()])
    shown = statics_of(read_car("hatch.toml").car, loads).on_pads(heights)
    return " ".join(f"{METRIC.from_si(load, 'load'):.6f}" for load in shown)


def broken_off() -> None:
    """Take the end off the log, as a kill does."""
    lines = Path(LOG).read_text().splitlines()
    kept = [line for line in lines if json.loads(line)["data"].get("event") != "end"]
    Path(LOG).write_text("\n".join([*kept, ""]))


def test_what_pads_of_known_height_do_is_taken_off(sit: Sit) -> None:
    (level,) = sit.json(FIRST, "done")[:1]
    Path(LOG).unlink()
    (corrected,) = sit.json(uneven(FIRST), "done", options=f"--pads {PADS}")[:1]
    assert corrected["turns"] == level["turns"]
    assert corrected["estimate"]["cross_pct"] == pytest.approx(
        level["estimate"]["cross_pct"], abs=1e-3
    )
    # The pads show what they show.
    assert abs(corrected["pads_cross_pct"] - level["pads_cross_pct"]) > 0.25


def test_pad_heights_are_in_the_log_and_go_on(sit: Sit) -> None:
    (first,) = sit.json(uneven(FIRST), options=f"--pads {PADS}")
    broken_off()
    found = after(FIRST, first["turns"])
    ran = sit.text(uneven(found))
    assert "On pads that stand LF 0.0, RF 0.0, LR 3.0, RR 1.0 mm above the lowest" in " ".join(
        ran.out.split()
    )
    assert "wanted 50.0 % ± 0.2\nStop here: it is in tolerance on these pads" in ran.out
    entries = [entry for entry in read_log(LOG).entries if entry.kind == "weigh_in"]
    assert [entry.data["pad_heights"] for entry in entries] == [[0, 0, 3, 1]] * 2


def test_pads_said_anew_hold_from_here_on(sit: Sit) -> None:
    (first,) = sit.json(uneven(FIRST), options=f"--pads {PADS}")
    broken_off()
    found = after(FIRST, first["turns"])
    ran = sit.text(found, options="--pads 0 0 0 0 --json")
    opening, answer = (json.loads(line) for line in ran.out.splitlines())
    assert opening["changed"] == [
        "level pads instead of pads that stand LF 0.0, RF 0.0, LR 3.0, RR 1.0 mm above the lowest"
    ]
    assert answer["stop"] == "in_tolerance"
    again = "again " + found
    broken_off()
    # More of the same is not to be had on pads that have moved.
    refused = sit.text(again, options=f"--pads {PADS}")
    assert "nothing was weighed just now" in refused.err


def test_a_session_of_before_stood_on_level_pads(sit: Sit) -> None:
    (first,) = sit.json(FIRST)
    broken_off()
    assert "pad_heights" not in Path(LOG).read_text()
    opening, _ = (
        json.loads(line)
        for line in sit.text(after(FIRST, first["turns"]), options="--json").out.splitlines()
    )
    assert opening["pad_heights"] is None


def test_what_is_expected_is_what_uneven_pads_will_show(sit: Sit) -> None:
    high = "5 0 0 5"
    (first,) = sit.json(uneven(FIRST, high), options=f"--pads {high}")
    broken_off()
    right = uneven(after(FIRST, first["turns"]), high)
    lf, rf, lr, rr = right.split()
    asked = sit.json(f"{lf} 200 {lr} {rr}")[0]
    assert asked["suspect"] == ["RF"]
    assert asked["meant"]["RF"] == pytest.approx(float(rf), abs=1.0)


def test_ride_heights_typed_or_from_a_file_let_heights_be_wanted(sit: Sit) -> None:
    refused = sit.text(FIRST, options="--heights 120 120 130 130")
    assert refused.status == 2
    assert refused.err == (
        "--heights: the heights now are not known: say them with --stands, or --heights-from FILE\n"
    )
    wanted = "--heights 122 122 130 130"
    (typed,) = sit.json(FIRST, options=f"--stands 120 120 130 130 {wanted}")
    by_hand = np.array([typed["height_change"][pad] for pad in ("LF", "RF")])
    assert by_hand == pytest.approx(2.0, abs=1.5)
    assert '"ride_heights": [120.0, 120.0, 130.0, 130.0]' in Path(LOG).read_text()
    Path(LOG).unlink()
    Path("may.toml").write_text(
        f"readings = [[{FIRST.replace(' ', ', ')}]]\nride_heights = [120, 120, 130, 130]\n"
        f"pad_heights = [{PADS.replace(' ', ', ')}]\n"
    )
    (read,) = sit.json(uneven(FIRST), options=f"--heights-from may.toml {wanted}")
    assert read["turns"] == typed["turns"]
    assert sit.text(FIRST, options=f"--heights-from none.toml {wanted}").status == 2
