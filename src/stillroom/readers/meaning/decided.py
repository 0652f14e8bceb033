"""A column as it was decided, and where its unit was stated."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.readers.layout import Column

IN_HEADER, IN_ROW, IN_CELLS, BY_HAND = "in the header", "in the unit row", "in its cells", "by hand"
UNTOLD = "nowhere"
"""Of a time column that holds plain numbers: in which unit nobody tells."""


@dataclass(frozen=True)
class Decided:
    """One column as it was decided, and where its unit was stated."""

    column: Column
    where: str = ""
