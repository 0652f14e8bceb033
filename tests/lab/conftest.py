"""One lab of the invented laboratory without faults, reduced once for all tests of this folder."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from stillroom.demo.truth import Truth
from stillroom.demo.write import write_exports
from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab


@pytest.fixture(scope="session")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, Truth]]:
    base = tmp_path_factory.mktemp("sound")
    truth = write_exports(base / "bench", faults=False, truth_path=base / "truth.json")
    folder.make(base / "lab", template("Sound"))
    with Lab(base / "lab") as lab:
        bring_in(lab, [base / "bench"], {})
        reduce_lab(lab, build_graph(open_book(lab)), workers=1)
        yield lab, truth
