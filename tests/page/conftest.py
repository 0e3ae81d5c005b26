from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.conftest import COUPE
from tests.page.client import Client, house_of


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with one car that was never weighed."""
    shutil.copy(COUPE, tmp_path / "coupe.toml")
    return tmp_path


@pytest.fixture
def client(folder: Path) -> Client:
    return Client(house_of(folder).app())
