"""Questions of readers that no record of a lab can answer, and what would."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from stillroom.lab.book import Book
from stillroom.vocabulary import plain


@dataclass(frozen=True)
class Unanswered:
    """A question that no record answers.

    Parameters
    ----------
    topic : in a few words. why : it isn't known. needed : what would answer it.
    """

    topic: str
    why: str
    needed: str


def unanswered(book: Book, asked: str, fan: str = "") -> Unanswered | None:
    """What is to be said of a question that isn't one of the lab's measures; None where it is no known question.

    Parameters
    ----------
    asked : the topic, as somebody writes it. fan : of which it is asked; "" for none.
    """
    words = plain(asked)
    found = next((make for names, make in _TOPICS if words in names), None)
    return found(book, fan) if found else None


def _clicking(_book: Book, _fan: str) -> Unanswered:
    return Unanswered(
        "clicking",
        "levels, tones and loudness are means over a recording, and tell nothing of single clicks",
        "recordings at low speed in each position, and a definition of what counts as a click",
    )


def _orientation(_book: Book, _fan: str) -> Unanswered:
    return Unanswered(
        "orientation",
        "the records of mountings do not tell which way the axis lay",
        "mountings of one sample with the axis level, upwards and downwards, each with its sound and its starts",
    )


def _thickness(book: Book, fan: str) -> Unanswered:
    record = book.fans.get(fan)
    printed = (
        f"{record.thickness * 1000:.3g} mm is as printed" if record and record.thickness else "none is told"
    )
    return Unanswered(
        "true thickness",
        f"{printed}; no record holds a measured one" if fan else "the table of fans holds it as printed",
        "the frame of each sample measured with a calliper at its corners",
    )


def _obstacle_of(kind: str) -> Callable[[Book, str], Unanswered]:
    def make(book: Book, _fan: str) -> Unanswered:
        known = sorted(
            {each.obstacle for each in book.obstacles.values() if plain(each.type or "") == plain(kind)}
        )
        if known:
            return Unanswered(kind, "it is asked for as an obstacle", f"--through {' or '.join(known)}")
        return Unanswered(
            kind,
            f"no {kind} is among the lab's obstacles",
            f"its resistance measured in the chamber, as an obstacle of the kind '{kind}'; then --through its name",
        )

    return make


_TOPICS: tuple[tuple[frozenset[str], Callable[[Book, str], Unanswered]], ...] = tuple(
    (frozenset(map(plain, names)), make)
    for names, make in (
        (("clicking", "clicks", "click", "bearing noise", "ticking", "rattle"), _clicking),
        (("orientation", "position", "horizontal", "vertical"), _orientation),
        (("thickness", "true thickness", "true-thickness"), _thickness),
        (("tower heatsink", "tower-heatsink", "tower", "heatsink"), _obstacle_of("tower heatsink")),
        (("case front", "case-front", "case"), _obstacle_of("case front")),
    )
)
"""The names under which each is asked for, and what is said."""
