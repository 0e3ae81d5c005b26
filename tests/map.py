"""The map in DEVELOPERS.md, made from the tree: `python -m tests.map` rewrites it."""

from __future__ import annotations

import ast
import re
import tomllib
from collections import Counter
from functools import cache
from pathlib import Path

from balancer.cli.commands import COMMANDS
from tests.conftest import ROOT

DEVELOPERS = ROOT / "DEVELOPERS.md"
BEGIN, END = "<!-- made by python -m tests.map -->\n", "<!-- end of what is made -->\n"
MOST = 2
"""Files named for a module: where to look first, not all that pass through it."""
ELSEWHERE = {"benchmarks", "fuzz", "mutation", "browser", "test_habits", "test_map", "test_readme"}
"""Tests of the whole, which say little about one module."""
OWN = {
    "balancer.__main__": "cli/test_processes",
    "balancer.jobs.": "cli/test_session",
    "balancer.cli.options.inputs": "cli/test_bad_input",
    "balancer.cli.options.numbers": "cli/test_bad_input",
    "balancer.cli.options.results": "cli/test_pictures",
    "balancer.cli.options.usage": "cli/test_bad_input",
    "balancer.files.checks.": "cli/test_bad_input",
    "balancer.files.format.bounds": "cli/test_bounds",
    "balancer.files.format.faults": "cli/test_bad_input",
    "balancer.files.format.rows": "cli/test_bad_input",
    "balancer.files.format.schema_paths": "cli/test_bad_input",
    "balancer.files.format.value_types": "cli/test_bad_input",
    "balancer.log.commands": "cli/test_session",
    "balancer.log.last_session": "cli/test_sheet",
    "balancer.log.replay": "cli/test_log_damage",
    "balancer.log.undo": "cli/test_session",
    "balancer.report.pictures.": "cli/test_pictures",
    "balancer.report.sheet.": "cli/test_sheet",
}
"""Tests that reach rooms by running commands, as no import can tell."""

Tree = ast.Module


@cache
def modules() -> dict[str, Path]:
    """Give every module that holds code, by its name without the package's."""
    found = {}
    for path in sorted((ROOT / "balancer").rglob("*.py")):
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        if path.name != "__init__.py" or any(map(_is_code, parsed(path).body)):
            found[name] = path
    return found


def _is_code(node: ast.stmt) -> bool:
    return isinstance(node, ast.FunctionDef | ast.ClassDef)


@cache
def parsed(path: Path) -> Tree:
    """Read a module."""
    return ast.parse(path.read_text(encoding="utf-8"))


def summary(path: Path) -> str:
    """Give the first line of what a module says of itself."""
    said = (ast.get_docstring(parsed(path)) or "").partition("\n")[0]
    command = re.fullmatch(r"`balancer (\w+)`\.", said)
    return f"{said[:-1]}: {COMMANDS[command[1]]}" if command else said


@cache
def used(path: Path) -> Counter[str]:
    """Count how often a file uses what it imports, by the module it is from."""
    home: dict[str, str] = {}
    found: Counter[str] = Counter()
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("balancer"):
            for name in node.names:
                whole = f"{node.module}.{name.name}"
                home[name.asname or name.name] = whole if whole in modules() else str(node.module)
                found[home[name.asname or name.name]] += 1
        elif isinstance(node, ast.Import):
            home |= {name.name: name.name for name in node.names if name.name == "balancer"}
    names = (node.id for node in ast.walk(parsed(path)) if isinstance(node, ast.Name))
    return found + Counter(home[name] for name in names if name in home)


@cache
def files_of_tests() -> dict[str, Path]:
    """Give every file of tests that are about something, by its place below tests/."""
    files = sorted((ROOT / "tests").rglob("test_*.py"))
    places = {str(path.relative_to(ROOT / "tests").with_suffix("")): path for path in files}
    return {place: path for place, path in places.items() if place.split("/")[0] not in ELSEWHERE}


@cache
def commands() -> dict[str, Counter[str]]:
    """Count how often each file of tests runs each command."""
    found: dict[str, Counter[str]] = {}
    for place, path in files_of_tests().items():
        texts = (node.value for node in ast.walk(parsed(path)) if isinstance(node, ast.Constant))
        first = (
            text.split(maxsplit=1)[0] for text in texts if isinstance(text, str) and text.strip()
        )
        for word in first:
            if word in COMMANDS:
                found.setdefault(word, Counter())[place] += 1
    return found


@cache
def direct() -> dict[str, Counter[str]]:
    """Count how much each file of tests uses of each module."""
    found: dict[str, Counter[str]] = {}
    for place, path in files_of_tests().items():
        for module, count in used(path).items():
            found.setdefault(module, Counter())[place] += count
    return found


@cache
def chosen() -> dict[str, list[str]]:
    """Give the tests that mutants of a module are tried with: somebody chose them."""
    table = tomllib.loads((ROOT / "tests" / "mutation" / "modules.toml").read_text("utf-8"))
    return {
        f"balancer.{module}": list(
            dict.fromkeys(re.sub(r"^tests/|\.py(::.*)?$", "", test) for test in row["tests"])
        )
        for module, row in table.items()
        if row.get("tests")
    }


def most(counts: Counter[str], name: str = "") -> list[str]:
    """Give the places that count most, first one that bears the name; the same each time."""

    def rank(place: str) -> tuple[bool, int, str]:
        return not place.endswith(f"/test_{name}"), -counts[place], place

    return sorted(counts, key=rank)[:MOST]


def where_tested(
    module: str, asked: frozenset[str] = frozenset(), sought: str = ""
) -> tuple[list[str], str]:
    """Give the tests of a module, and the module through which they reach it where not itself."""
    name = sought or module.rpartition(".")[2]
    if own := [place for prefix, place in OWN.items() if module.startswith(prefix)]:
        return own, ""
    if module in chosen():
        return chosen()[module][: MOST + 1], ""
    counts = Counter(direct().get(module))
    if re.match(r"balancer\.(cli|report)\.", module):
        for part in set(module.split(".")[2:]):
            counts += commands().get(part, Counter())
    if counts:
        return most(counts, name), ""
    return _through(module, asked | {module}, name)


def _through(module: str, asked: frozenset[str], sought: str) -> tuple[list[str], str]:
    """Look where the modules that use a module most are tested."""
    users = Counter({user: used(path)[module] for user, path in modules().items()})
    for user in most(+users):
        if user not in asked and (places := where_tested(user, asked, sought)[0]):
            return places, user.removeprefix("balancer.")
    return [], ""


def rooms() -> list[str]:
    """Give a line for each room: its own words."""
    package = ROOT / "balancer"
    inside = sorted(path.parent for path in package.rglob("*/__init__.py"))
    return [
        f"* **`{room.relative_to(package)}/`** {_said(room / '__init__.py')}" for room in inside
    ]


def _said(path: Path) -> str:
    return " ".join((ast.get_docstring(parsed(path)) or "").split())


def row(module: str, path: Path) -> str:
    """Give the line of a module."""
    places, through = where_tested(module)
    where = ", ".join(f"`{place}`" for place in sorted(places))
    if through:
        where += f" through `{through}`"
    return f"| `{module.removeprefix('balancer.')}` | {summary(path)} | {where} |"


def made() -> str:
    """Give the map of the tree as it is."""
    table = ["| module | what is in it | tested in `tests/` |", "| --- | --- | --- |"]
    rows = [row(module, path) for module, path in modules().items()]
    return "\n".join([*rooms(), "", *table, *rows, ""])


def renewed(text: str) -> str:
    """Put the map of today in the place of the one that is there."""
    before, _, rest = text.partition(BEGIN)
    return f"{before}{BEGIN}{made()}{END}{rest.partition(END)[2]}"


if __name__ == "__main__":
    DEVELOPERS.write_text(renewed(DEVELOPERS.read_text(encoding="utf-8")), encoding="utf-8")
