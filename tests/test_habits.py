"""One place for each habit: the version, and what is run before a commit and in CI."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib

import balancer
from tests.conftest import ROOT


def test_hooks_run_what_ci_runs() -> None:
    hooks = (ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8")
    lint = re.search(
        r"^lint\(\) \{\n(.*?)^\}", (ROOT / ".ci" / "run").read_text("utf-8"), re.M | re.S
    )
    assert lint
    in_ci = re.findall(r'^  "\$tools/lint/bin/([\w-]+)"(.*)$', lint[1], re.MULTILINE)
    before_a_commit = re.findall(r"entry: \.venv/bin/([\w-]+)(.*),$", hooks, re.MULTILINE)
    assert before_a_commit == in_ci
    assert len(in_ci) == 4


def test_the_version_stands_in_one_place() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["dynamic"] == ["version"]
    assert project["tool"]["hatch"]["version"] == {"path": "balancer/__init__.py"}
    ran = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "balancer", "--version"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert ran.stdout == f"balancer, version {balancer.__version__}\n"
    # It reads the name of every file of the installation.
    assert "importlib.metadata" not in ran.stderr
