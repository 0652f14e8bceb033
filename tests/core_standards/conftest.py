"""Published figures by their number, and how closely they must be met."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import ArrayLike

FOLDER = Path(__file__).parents[1] / "reference"


@dataclass(frozen=True)
class Published:
    """One figure from outside, with its inputs, tolerance and source."""

    inputs: dict[str, Any]
    expected: Any
    tolerance: dict[str, float]
    source: str

    def meets(self, value: ArrayLike) -> None:
        """Assert that a value agrees within the tolerance that goes with the figure."""
        rel, limit = self.tolerance.get("rel", 0.0), self.tolerance.get("abs", 0.0)
        np.testing.assert_allclose(value, self.expected, rtol=rel, atol=limit, err_msg=self.source)


@pytest.fixture(scope="session")
def published() -> Callable[[str], Published]:
    table: dict[str, Published] = {}
    for name in ("air_and_nozzles", "fan_laws_and_units", "uncertainty"):
        for each in json.loads((FOLDER / f"{name}.json").read_text("utf-8"))["entries"]:
            source = f"{each['id']}: {each['source']} ({each['how_obtained']})"
            table[each["id"]] = Published(each["inputs"], each["expected"], each["tolerance"], source)
    return table.__getitem__
