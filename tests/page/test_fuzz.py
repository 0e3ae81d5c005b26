"""Requests drawn at random: no fault of our own, and no line that was not acknowledged."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from random import Random
from urllib.parse import quote

import pytest

from balancer.log.reader import read_log
from tests.conftest import ROOT
from tests.page.client import Answer, Client, house_of

COUNT = int(os.environ.get("PAGE_FUZZ", "200"))
SEED = int(os.environ.get("PAGE_FUZZ_SEED", "7"))
EACH = 100
"""Requests to one folder."""

ODD = (
    "", " ", "0", "-1", "1e400", "nan", "1,005", "302,5", "3/4", "½", "１２", "undo", "yes", "done",
    "\x00", "\u202e", "é" * 300, "9" * 4000, "<b>", "{{7*7}}", "' OR 1=1", "../coupe", "302\nundo",
    "302 kg", "5 lb", "driver=1", "none", "\ue0000", "up", "down", "1", "9" * 12, "race", "-0.25",
)  # fmt: skip
FIELDS = (
    "LF", "RF", "LR", "RR", "on-0", "on-1", "on-2", "amount-0", "amount-1", "board", "again",
    "sure", "keep", "turned", "much-LF", "way-LF", "much-RR", "way-RR", "cross", "tolerance",
    "aim", "poorly", "text", "mark", "box", "on", "seen", "act", "do", "token", "go", "variant",
    "book", "after", "all",
)  # fmt: skip
DEEDS = ("weigh",) * 4 + (
    "done", "done", "made", "undo", "end", "note", "settings", "save", "check", "untick",
)  # fmt: skip
PLACES = ("session",) * 30 + (
    "turned", "log", "log/2", "log/0", "log/-1", "trim", "ballast", "prep", "parts", "file", "seen",
    "sheet", "", "nothing",
)  # fmt: skip


def drawn_form(rng: Random, client: Client, folder: Path) -> dict[str, str]:
    """Draw a form: like one of ours, with slips."""
    last = read_log(str(folder / "coupe.log.jsonl")).entries
    total = rng.uniform(250, 320)
    form = {
        "token": client.token, "do": rng.choice(DEEDS), "act": f"act-{rng.randrange(10**15):016}",
        "seen": str(last[-1].number if last else 0), "board": "1", "on-0": "1", "on-1": "1",
        "LF": f"{total:.1f}", "RF": f"{total - 4:.1f}", "LR": f"{total * 0.79:.1f}",
        "RR": f"{total * 0.81:.1f}", "text": "name = 1", "box": "a box", "on": rng.choice("01"),
    }  # fmt: skip
    if form["do"] == "made":
        form |= {
            "much-LF": rng.choice(("0.25", "1/2", "0,75")),
            "way-LF": rng.choice(("up", "down")),
        }
    for _ in range(rng.choice((0, 0, 1, 2, 5))):
        form[rng.choice(FIELDS)] = rng.choice(ODD)
    return form


def drawn(rng: Random, client: Client, folder: Path, sent: dict[str, str]) -> Answer:
    """Send a request; what was sent last is sent again now and then."""
    name = rng.choice(("coupe",) * 400 + ODD)
    place = rng.choice(PLACES)
    path = f"/car/{quote(name, safe='')}" + (f"/{place}" if place else "")
    if rng.random() < 0.2:
        query = "&".join(
            f"{rng.choice(FIELDS)}={quote(rng.choice(ODD), safe='')}"
            for _ in range(rng.randrange(4))
        )
        return client.get(f"{path}?{query}")
    if not sent or rng.random() < 0.85:
        sent.clear()
        sent.update(drawn_form(rng, client, folder))
    headers = {} if rng.random() < 0.95 else {"origin": rng.choice(("null", "http://evil"))}
    return client.post(path, sent, **headers)


def lines(folder: Path) -> list[dict[str, object]]:
    log = folder / "coupe.log.jsonl"
    text = log.read_text(encoding="utf-8") if log.exists() else ""
    return [json.loads(line) for line in text.splitlines()]


@pytest.mark.parametrize("part", range(max(COUNT // EACH, 1)))
def test_whatever_is_asked(tmp_path: Path, part: int) -> None:
    rng = Random(f"{SEED}:{part}")
    for name in ("coupe.toml", "parts.toml"):
        shutil.copy(ROOT / "examples" / name, tmp_path / name)
    car = (tmp_path / "coupe.toml").read_bytes()
    client, sent = Client(house_of(tmp_path).app()), dict[str, str]()
    client.token = client.get("/car/coupe/session").form("weigh")["token"]
    acknowledged = 0
    for _ in range(min(COUNT, EACH)):
        before = lines(tmp_path)
        answer = drawn(rng, client, tmp_path, sent)
        assert answer.status in (200, 303, 400, 403, 404, 405, 409, 413, 415, 422), answer.words
        new = lines(tmp_path)[len(before) :]
        acts = {str(line.get("act", "")) for line in new}
        assert acts <= {sent.get("act", ""), sent.get("act", "") + "+"}
        if sent.get("act", "") in acts:
            # What was asked for is in the log: the answer says so.
            assert answer.status == 303, answer.words
            acknowledged += 1
        else:
            # What was said beside it, and what is asked about it now.
            assert not new or answer.status in (200, 422), answer.words
        assert (tmp_path / "coupe.toml").read_bytes() == car
    log = read_log(str(tmp_path / "coupe.log.jsonl"))
    assert log.damaged == ()
    assert acknowledged > 1
