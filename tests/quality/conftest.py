"""The invented laboratory with its faults, and without any, brought in and reduced once a session."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from reviewed import Reviewed, reviewed


@pytest.fixture(scope="session")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Reviewed:
    return reviewed(tmp_path_factory.mktemp("faulty"), faults=True)


@pytest.fixture(scope="session")
def clean(tmp_path_factory: pytest.TempPathFactory) -> Reviewed:
    return reviewed(tmp_path_factory.mktemp("clean"), faults=False)


@pytest.fixture
def fresh(tmp_path: Path, faulty: Reviewed) -> Reviewed:
    """A faulty laboratory of its own, to decide in."""
    path = tmp_path / "lab"
    shutil.copytree(faulty.path, path)
    return replace(faulty, path=path)
