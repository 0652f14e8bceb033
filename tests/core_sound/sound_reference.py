"""Published figures of sound levels, by their quantity."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

FILE = Path(__file__).parents[1] / "reference" / "sound_levels.json"


@cache
def _entries() -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(FILE.read_text("utf-8"))["entries"]
    return found


def figures(quantity: str) -> list[dict[str, Any]]:
    """All entries of a quantity: inputs, expected, tolerance, source, how_obtained."""
    found = [each for each in _entries() if each["quantity"] == quantity]
    assert found, quantity
    return found
