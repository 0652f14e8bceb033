"""The nozzles that a cell lists as open."""

from __future__ import annotations

import re

from stillroom.errors import BadInput, Contradiction

CLOSED = frozenset({"none", "-", "0", "closed", "shut", "all closed"})
"""Words in a nozzle column that say that no nozzle is open."""

_BETWEEN_NOZZLES = re.compile(r"[+;,&\s]+")


def parse_nozzles(text: str, place: str) -> tuple[str, ...]:
    """The nozzles that a cell lists as open, joined by + or ; or blanks; "none", "-", "0", "closed": none.

    Raises
    ------
    BadInput : the cell is empty.
    Contradiction : a nozzle is listed twice.
    """
    bare = " ".join(text.split())
    if bare.casefold() in CLOSED:
        return ()
    names = tuple(name for name in _BETWEEN_NOZZLES.split(bare) if name)
    if not names:
        found = repr(text[:80]) if bare else "an empty cell"
        raise BadInput("nozzles", place=place, found=found, expected="names such as N25+N40, or none")
    twice = next((name for name in names if names.count(name) > 1), "")
    if twice:
        raise Contradiction(
            "nozzles", place=place, found=f"{twice!r} twice", expected="each open nozzle once"
        )
    return names
