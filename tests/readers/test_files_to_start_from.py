"""The columns that the README gives to start from are those of a measurement, each of its own kind."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.readers.words.headers import quantities_for, split_header, text_column_for
from stillroom.readers.words.kinds import Kind, kind_of

README = Path(__file__).resolve().parents[2] / "README.md"


def starts() -> dict[str, str]:
    """{what it measures: its header} as the README lists them."""
    block = README.read_text(encoding="utf-8").split("Files to start from")[1].split("```")[1]
    pairs = [line.rsplit("  ", 1) for line in block.strip().splitlines()]
    return {what.strip(): header.strip() for header, what in pairs}


@pytest.mark.parametrize(
    ("what", "kind"),
    [
        ("a nozzle chamber", Kind.NOZZLE_READINGS),
        ("flow and pressure only", Kind.FLOW_AND_PRESSURE),
        ("an obstacle", Kind.OBSTACLE),
        ("a log of the heat rig", Kind.HEAT_LOG),
        ("how a fan answers its control", Kind.CONTROL_STEPS),
    ],
)
def test_each_kind_has_a_header_to_start_from(what: str, kind: Kind) -> None:
    names = []
    for cell in starts()[what].split(","):
        header = split_header(cell)
        found = quantities_for(header.name)
        names.append(found[0].name if found else text_column_for(header.name))
    assert all(names), names
    assert kind_of(names, "README.md") is kind
