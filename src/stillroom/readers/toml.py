"""TOML files that people write and share, parsed in bounded time."""

from __future__ import annotations

import re
import tomllib

from stillroom.errors import UnreadableFile

DEPTH_LIMIT = 40
"""Most names that a key may join by points; the parser's time grows with the square of them."""

_DEEP = re.compile(rf"""^[\t \[]*(?:[^=#\n.]{{1,200}}\.){{{DEPTH_LIMIT}}}""", re.MULTILINE)


def parse_toml(text: str, thing: str, place: str) -> dict[str, object]:
    """The values that a TOML text holds.

    Parameters
    ----------
    text : the text.
    thing, place : what it is and where it stands, for messages.

    Raises
    ------
    UnreadableFile : it isn't TOML (says the line), or goes deeper than anybody writes.
    """
    if _DEEP.search(text):
        found = f"a key of more than {DEPTH_LIMIT} names"
        raise UnreadableFile(thing, place=place, found=found, expected="TOML as people write it")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise UnreadableFile(thing, place=place, found=str(problem), expected="a TOML file") from None
    except (RecursionError, ValueError) as problem:
        found = f"values that can't be read ({type(problem).__name__})"
        raise UnreadableFile(thing, place=place, found=found, expected="a TOML file") from None
