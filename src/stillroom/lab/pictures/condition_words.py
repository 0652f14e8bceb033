"""A condition in words: what stands around the fans, as titles say it and as names of files carry it.

Words are made of the conditions as they stand beside a finished answer, so that a title never says less than they do.
"""

from __future__ import annotations

from stillroom import wording
from stillroom.lab.book import Book
from stillroom.lab.pictures.picture_words import short_name, versions_in_words
from stillroom.lab.system_words import (
    ALTITUDE,
    BESIDE,
    FACTOR,
    TEMPERATURE,
    TILES,
    Conditions,
    factor_words,
)


def speed_phrase(told: Conditions) -> str:
    """At which setting: "at full speed", "at 40 % duty"; "" where each test has settings of its own."""
    if told["speed"] is None:
        return ""
    return "at full speed" if told["speed"] == "full setting" else f"at {told['speed']}"


def through_phrase(told: Conditions, book: Book | None = None) -> str:
    """What the air goes through: "through rad27", "through three tiles of rad27", or "".

    Parameters
    ----------
    book : where given, the version of an obstacle is left out of which it knows only one.
    """
    words = str(told.get("through") or told["obstacle"] or "")
    named = short_name(book, words) if book else versions_in_words(words)
    return f"through {tiles_of(told)}{named}" if words else ""


def tiles_of(told: Conditions) -> str:
    """The area of an obstacle, before its name: "three tiles of ", or "" for the piece as measured."""
    tiles = told.get(TILES)
    if tiles is None:
        return ""
    many = wording.count(tiles) if isinstance(tiles, int) else f"{tiles:g}"
    return f"{many} tiles of "


def air_phrase(told: Conditions) -> str:
    """In which air, where one was told: "at 1600 m and 30 °C", or ""."""
    warm = str(told[TEMPERATURE]).replace(".0 ", " ") if told.get(TEMPERATURE) else ""
    named = [each for each in (str(told.get(ALTITUDE) or ""), warm) if each]
    return f"at {' and '.join(named)}" if named else ""


def around(told: Conditions) -> str:
    """How many fans of a kind stand together and in which air, as a sentence goes on; "" for the usual."""
    return "".join(f", {each}" for each in (arrangement(told), air_phrase(told)) if each)


def of_each(told: Conditions) -> str:
    """The same where several obstacles are spoken of, with their tiles."""
    tiles = f", on {tiles_of(told)}each" if told.get(TILES) else ""
    return tiles + around(told)


def arrangement(told: Conditions) -> str:
    """How many fans of a kind stand together, each called "of each"; "" for one fan.

    "three of each side by side", "two of each in push–pull (factor 0.85)".
    """
    beside, is_pair = told.get(BESIDE), bool(told.get(FACTOR))
    pair = f"in push–pull (factor {told[FACTOR]:g})" if is_pair else ""
    if beside and is_pair:
        return f"{wording.count(int(beside))} pairs of each {pair} side by side"
    if beside:
        return f"{wording.count(int(beside))} of each side by side"
    return f"two of each {pair}" if is_pair else ""


def subject(fan: str, told: Conditions) -> tuple[str, bool]:
    """Of whom words about one fan speak, and whether of several.

    ("Hobby", False), ("two Hobby in push–pull (factor 0.85)", True).
    """
    words = arrangement(told)
    if not words:
        return wording.isolate(fan), False
    name = wording.isolate(fan)
    return words.replace("of each", f"of {name}" if " pairs " in words else name, 1), True


def file_parts(told: Conditions) -> tuple[str, ...]:
    """The parts of a file's name that tell one condition from another; none for the usual one."""
    speed = "" if told["speed"] in (None, "full setting") else str(told["speed"])
    parts = {
        "beside": told.get(BESIDE),
        "tiles": told.get(TILES),
        "push-pull": factor_words(told) if told.get(FACTOR) else None,
        "altitude": told.get(ALTITUDE),
        "air": told.get(TEMPERATURE),
    }
    return (speed, *(f"{name} {value}" for name, value in parts.items() if value))
