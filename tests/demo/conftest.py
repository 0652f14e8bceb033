"""The invented laboratory, written once as it is and once with nothing wrong in it."""

import pytest
from inverted import Lab

from stillroom.demo.write import write_exports


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Lab:
    folder = tmp_path_factory.mktemp("lab") / "files"
    return folder, write_exports(folder)


@pytest.fixture(scope="session")
def clean(tmp_path_factory: pytest.TempPathFactory) -> Lab:
    folder = tmp_path_factory.mktemp("clean") / "files"
    return folder, write_exports(folder, faults=False)


@pytest.fixture(scope="session")
def sounding(tmp_path_factory: pytest.TempPathFactory) -> Lab:
    """The short round with its recordings."""
    folder = tmp_path_factory.mktemp("sounding") / "files"
    return folder, write_exports(folder, sound=True)
