"""Write a tree as TOML, with room for what no library would write."""

from __future__ import annotations

import json
import re
from typing import Any, NamedTuple


class Raw(NamedTuple):
    """A value just as it stands in the file."""

    text: str


def toml_text(tree: dict[str, Any]) -> str:
    """Write a tree the way people do: values first, then tables."""
    lines: list[str] = []
    _table(tree, "", lines)
    return "\n".join(lines) + "\n"


def _table(tree: dict[str, Any], above: str, lines: list[str]) -> None:
    tables = {key: value for key, value in tree.items() if _has_header(value)}
    lines += [f"{_key(key)} = {_value(tree[key])}" for key in tree if key not in tables]
    for key, value in tables.items():
        path = f"{above}.{_key(key)}" if above else _key(key)
        for one in value if isinstance(value, list) else [value]:
            lines += ["", f"[[{path}]]" if isinstance(value, list) else f"[{path}]"]
            _table(one, path, lines)


def _has_header(value: object) -> bool:
    if isinstance(value, list):
        return bool(value) and all(isinstance(one, dict) for one in value)
    return isinstance(value, dict)


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key)


def _value(value: object) -> str:
    if isinstance(value, Raw):
        return value.text
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _string(value)
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{_key(key)} = {_value(one)}' for key, one in value.items())} }}"
    return value.isoformat() if hasattr(value, "isoformat") else repr(value)


def _string(text: str) -> str:
    """Quote a text; what TOML does not let stand in quotes is escaped."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"{}"'.format(
        "".join(
            f"\\u{ord(one):04x}" if ord(one) < 32 or ord(one) == 127 else one for one in escaped
        )
    )
