"""The made lab of this folder, reduced once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from noise_world import FANS, make_lab

from stillroom.store.lab import Lab


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    with make_lab(tmp_path_factory.mktemp("noise"), FANS) as lab:
        yield lab
