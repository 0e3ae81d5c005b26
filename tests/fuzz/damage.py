"""Small damage: to trees, to texts, to bytes, with random numbers of its own."""

from __future__ import annotations

import copy
import datetime
from collections.abc import Callable
from random import Random
from typing import Any

from tests.fuzz.toml_text import Raw

NUMBERS: tuple[object, ...] = (
    0, -0.0, 1, -1, 0.5, 1e-9, 1e-300, 5e-324, 1e6, 1e9, 1e308, -1e308, 2**63, -(2**63), 10**30,
    Raw("nan"), Raw("inf"), Raw("-inf"), Raw("1e400"), Raw("0x10"), Raw("1_000"), Raw("1979-05-27"),
    Raw("07:32:00"), Raw("0001-01-01"), Raw("9999-12-31T23:59:59Z"), Raw("101 1/4"), Raw("1,5"),
    Raw("2mm"), Raw("1/3"), Raw("½"), Raw(""), Raw("9" * 400), Raw("9" * 5000),
)  # fmt: skip
TEXTS = (
    "", " ", "x", "none", "log", "all", "fuel=5", "=", "driver", "a" * 199, "a" * 5000, "Ünïcode",
    "湿った", "🏁🏁", "right\u202eleft", "tab\there", "line\nbreak", "\x1b[31mred", "bell\x07",
    "\u0000", "=1+1", "-5", "@cmd", "<b>&amp;</b>", "{{ 7 * 7 }}", '"', "\\", "%s%n", "e\u0301",
    "\u200b", "\ufeff", "10kg", "1 1/2", "1½", "−3", "٣", "1e3", "12,5", "2mm", "1/16", "8kg/mm",
)  # fmt: skip
KEYS = ("mas", "Mass", "wheel base", "", "front.track", "ünits", "note", "x" * 300, "name", "up")
FACTORS = (0.1, 0.5, 0.9, 0.99, 1.01, 1.1, 2, 10, 25.4, 0.0393701, 2.20462, 1000, -1, 1e-6)
NUDGES = (0.5, 0.8, 0.9, 0.97, 0.99, 1.01, 1.03, 1.1, 1.3, 2)

Holder = Any
Spot = tuple[Holder, Any]


def spots(tree: Holder) -> list[Spot]:
    """Find every value in a tree, as what holds it and the key or number it has there."""
    found: list[Spot] = []
    waiting = [tree]
    while waiting:
        holder = waiting.pop()
        keys = list(holder) if isinstance(holder, dict) else range(len(holder))
        for key in keys:
            found.append((holder, key))
            if isinstance(holder[key], dict | list):
                waiting.append(holder[key])
    return found


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _scale(rng: Random, holder: Holder, key: Any) -> None:
    value = holder[key]
    if _is_number(value) and abs(value) < 1e300:
        holder[key] = type(value)(value * rng.choice(FACTORS))
    else:
        holder[key] = rng.choice(NUMBERS)


def _nudge(rng: Random, holder: Holder, key: Any) -> None:
    value = holder[key]
    if _is_number(value) and abs(value) < 1e300:
        holder[key] = round(value * rng.choice(NUDGES), 4)


def _extreme(rng: Random, holder: Holder, key: Any) -> None:
    holder[key] = rng.choice(NUMBERS)


def _retype(rng: Random, holder: Holder, key: Any) -> None:
    value = holder[key]
    kinds: tuple[Callable[[], object], ...] = (
        lambda: "" if isinstance(value, dict | list) else f"{value}",
        lambda: [value],
        lambda: [[value, value]],
        lambda: {"x": value},
        lambda: True,
        list,
        dict,
        lambda: datetime.date(2026, 5, 9),
        lambda: rng.choice(NUMBERS),
        lambda: rng.choice(TEXTS),
    )
    holder[key] = rng.choice(kinds)()


def _word(rng: Random, holder: Holder, key: Any) -> None:
    holder[key] = rng.choice(TEXTS)


def _delete(rng: Random, holder: Holder, key: Any) -> None:
    del holder[key]


def _rename(rng: Random, holder: Holder, key: Any) -> None:
    if isinstance(holder, dict):
        others = [one for one in holder if one != key]
        holder[rng.choice([*KEYS, *others, f"{key}s"])] = holder.pop(key)


def _repeat(rng: Random, holder: Holder, key: Any) -> None:
    """Let a list have more of what it has."""
    if isinstance(holder, list):
        times = rng.choice((1, 1, 2, 8, 30, 120, 400))
        holder[key:key] = [copy.deepcopy(holder[key]) for _ in range(times)]
    elif isinstance(holder[key], list):
        holder[key] = holder[key] * rng.choice((2, 3, 10, 60))


def _shuffle(rng: Random, holder: Holder, key: Any) -> None:
    if isinstance(holder, list):
        rng.shuffle(holder)


def _nest(rng: Random, holder: Holder, key: Any) -> None:
    for _ in range(rng.choice((1, 2, 5, 60, 300))):
        holder[key] = [holder[key]] if rng.random() < 0.7 else {"x": holder[key]}


_TREE = (
    _scale,
    _scale,
    _scale,
    _extreme,
    _retype,
    _word,
    _delete,
    _rename,
    _repeat,
    _shuffle,
    _nest,
)
_GENTLE = (_nudge, _nudge, _nudge, _nudge, _scale, _delete, _repeat, _shuffle)


def damage_tree(rng: Random, tree: Holder, gentle: bool = False) -> None:
    """Do one thing to one value, or put the value of another in its place."""
    found = spots(tree)
    if not found:
        return
    holder, key = rng.choice(found)
    if rng.random() < 0.08:
        other, its = rng.choice(found)
        holder[key] = copy.deepcopy(other[its])
        return
    rng.choice(_GENTLE if gentle else _TREE)(rng, holder, key)


def add_key(rng: Random, tree: dict[str, Any], schema: dict[str, Any]) -> None:
    """Add a key that the schema knows, or give one that is there another value of its kind."""
    properties = schema.get("properties", {})
    if not properties:
        return
    key = rng.choice(sorted(properties))
    inner, held = properties[key], tree.get(key)
    if isinstance(held, dict) and rng.random() < 0.8:
        add_key(rng, held, inner)
        return
    tables = [one for one in held if isinstance(one, dict)] if isinstance(held, list) else []
    if tables and rng.random() < 0.8:
        add_key(rng, rng.choice(tables), inner.get("items", {}))
        return
    tree[key] = value_of(rng, inner)


def value_of(rng: Random, schema: dict[str, Any]) -> object:
    """Make a value that the schema would take, of whatever size."""
    if "enum" in schema or "const" in schema:
        return rng.choice(schema.get("enum") or [schema["const"]])
    for choice in ("oneOf", "anyOf"):
        if choice in schema:
            return value_of(rng, rng.choice(schema[choice]))
    kind = schema.get("type")
    if kind == "object":
        keys = schema.get("properties", {})
        needed = schema.get("required", [])
        drawn = [key for key in keys if key in needed or rng.random() < 0.3]
        return {key: value_of(rng, keys[key]) for key in drawn}
    if kind == "array":
        least, most = schema.get("minItems", 0), schema.get("maxItems", 5)
        count = rng.choice((least, min(most, least + 1), min(most, least + rng.randrange(6))))
        return [value_of(rng, schema.get("items", {})) for _ in range(count)]
    if kind == "integer":
        return rng.choice((0, 1, 2, 5, 20, 1000, rng.randrange(1000)))
    if kind == "number":
        size = rng.choice((0.01, 0.1, 1, 10, 100, 1000))
        return rng.choice((1, 1, 1, -1)) * round(size * rng.uniform(0.1, 10), rng.randrange(4))
    if kind == "boolean":
        return rng.random() < 0.5
    return rng.choice(TEXTS)


def damage_text(rng: Random, text: str) -> str:
    """Do one thing to a line or two, with an eye to what TOML is made of."""
    lines = text.split("\n")
    at = rng.randrange(len(lines))
    line = lines[at]
    start = rng.randrange(len(line) + 1)
    others: tuple[Callable[[], list[str]], ...] = (
        list,
        lambda: [line, line],
        lambda: [line, lines[rng.randrange(len(lines))]],
        lambda: [line[:start]],
        lambda: [line[:start] + rng.choice("[]{}\"'=,.#\\\t\r \x07½−é") + line[start:]],
        lambda: [line.replace("=", rng.choice((":", "==", "", "= =", "=>")), 1)],
        lambda: [line.replace('"', rng.choice(("'", "”", "")))],
        lambda: [line.replace(".", ",")],
        lambda: [line.replace("[", "", 1)],
        lambda: [line.replace("]", "", 1)],
        lambda: [line.upper()],
        lambda: [rng.choice(("[", "[[", "a." * 200 + "b = 1", "[" + "a." * 200 + "b]"))],
        lambda: ["x = " + "[" * 300 + "]" * 300],
        lambda: [line + " kg"],
        lambda: [f"{line}  # {rng.choice(TEXTS)}".replace("\n", " ")],
    )
    lines[at : at + 1] = rng.choice(others)()
    return "\n".join(lines)


CELLS = (
    "", "x", "nan", "-5", "1e400", "302,5", "1½", "671 lb", "12.4.2025", "2025-13-40", "0001-01-01",
    "9999-12-31", "2030-01-01", "25:99", "nobody", "fuel=5", "driver fuel", "none", "kg", "stone",
    "=1+1", "a" * 5000, '"', "48.5", "1090",
)  # fmt: skip
HEADS = (
    "date",
    "LF",
    "right rear",
    "total",
    "cross %",
    "front",
    "left_pct",
    "kg",
    "lb",
    "",
    "when",
)


def damage_table(rng: Random, text: str) -> str:
    """Do one thing to a cell, a row or a column, or to what parts them."""
    rows = [line.split(",") for line in text.split("\n")]
    row, column = rng.choice(rows), rng.randrange(len(rows[0]))
    cells: tuple[object, ...] = HEADS if row is rows[0] else CELLS
    sort = rng.random()
    if sort < 0.5:
        row[column : column + 1] = [str(rng.choice(cells))]
    elif sort < 0.65:
        rows.insert(rng.randrange(1, len(rows) + 1), list(row))
    elif sort < 0.8:
        other = rng.randrange(len(rows[0]))
        for one in rows:
            one[column : column + 1] = rng.choice(([], one[other : other + 1]))
    elif sort < 0.9:
        rows.remove(row)
    else:
        mark = rng.choice((";", "\t", ", ", ","))
        return "\r\n".join(mark.join(one).replace(".", ",") for one in rows)
    return "\n".join(",".join(one) for one in rows)


def damage_bytes(rng: Random, content: bytes) -> bytes:
    """Do one thing to the bytes of a file, whatever it is."""
    start = rng.randrange(len(content) + 1)
    end = min(len(content), start + rng.choice((1, 1, 4, 40, 400)))
    new = rng.choice(
        (b"", b"\0", b"\xff", b"\xc3", b"\xed\xa0\x80", b"\r", b"\r\n", b"\x1b[2J", b"\xe2\x80\xae",
         b"9", b"-", b"\n", content[start:end] * 2, rng.randbytes(end - start))
    )  # fmt: skip
    whole: tuple[Callable[[], bytes], ...] = (
        lambda: content[:start],
        lambda: content[start:],
        lambda: b"\xef\xbb\xbf" + content,
        lambda: content.replace(b"\n", rng.choice((b"\r\n", b"\r", b"\n\n"))),
        lambda: content.decode("utf-8", "replace").encode("utf-16"),
        lambda: content.decode("utf-8", "replace").encode("latin-1", "replace"),
        lambda: content * rng.choice((2, 3, 40)),
    )
    if rng.random() < 0.2:
        return rng.choice(whole)()
    return content[:start] + new + content[end:]
