"""A finished invented lab for tests of publication, made once by whoever asks first; copy it before changing it."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from stillroom.publish.contents import Contents, gather
from stillroom.store.lab import Lab
from stillroom.verbs import demo

ROOM = "published-lab"


@pytest.fixture(scope="session")
def published_lab(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The short demo's lab, whole; all test processes of a session share one."""
    base = tmp_path_factory.getbasetemp()
    home = (base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base) / ROOM
    return made_once(home)


def made_once(home: Path) -> Path:
    """The lab in a folder, made by the first process that comes; the others wait for it."""

    done = home / "done"
    try:
        home.mkdir()
    except FileExistsError:
        for _ in range(3000):
            if done.exists():
                return home / "lab"
            time.sleep(0.1)
        raise AssertionError("the lab for tests of publication was not made within five minutes") from None
    demo(home / "lab")
    done.touch()
    return home / "lab"


@pytest.fixture
def own_lab(published_lab: Path, tmp_path: Path) -> Path:
    """A copy of that lab which a test may change."""
    return Path(shutil.copytree(published_lab, tmp_path / "lab"))


@pytest.fixture(scope="session")
def gathered(published_lab: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Contents]:
    """All that a release of that lab says, on a copy of its own; nothing may be written into the lab."""
    place = tmp_path_factory.mktemp("gathered")
    with Lab(Path(shutil.copytree(published_lab, place / "lab"))) as lab:
        yield gather(
            lab, "spring 2026", highlight="Sedge", question="Which fan for a radiator?", date="2026-03-04"
        )
