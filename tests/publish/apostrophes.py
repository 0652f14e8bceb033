"""The text that a cell of the open data stands for, as the page on open data says to undo apostrophes."""

from __future__ import annotations

import re

_APOSTROPHE = re.compile(r"(^|[;\t\r\n])'")


def plain_text(cell: str) -> str:
    """A cell without the apostrophes that keep a spreadsheet from taking it for a formula."""
    return _APOSTROPHE.sub(r"\1", cell)
