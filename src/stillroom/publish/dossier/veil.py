"""Names of other fans and makers, kept out of whatever a lab wrote itself: notes, reasons, names of files."""

from __future__ import annotations

import re
from collections.abc import Iterable

from stillroom.lab.book import Book, fans_known
from stillroom.lab.recipes import Graph

FAN, MAKER = "another fan", "another maker"


class Veil:
    """Hides the names of all fans but one, and of the makers of others.

    Whole words only, whatever their case, and with dashes, underscores or blanks between their parts: "Heath-Pro" is
    the fan "Heath Pro", "heathland" is no "Heath". What is spelt otherwise in a note stays: a person reads a dossier
    before it leaves the house.

    Parameters
    ----------
    fan : whose name stays, with its maker and model. book, graph : of the lab.
    """

    def __init__(self, fan: str, book: Book, graph: Graph) -> None:
        own = book.fans.get(fan)
        kept = {fan, (own.maker if own else None) or "", (own.model if own else None) or ""}
        others = {*graph.fans, *book.fans, *fans_known(book).values()}
        others |= {each.fan for each in book.legacy.values()} | {each.fan for each in book.prices.values()}
        others |= {each.fan for each in book.claims.values()}
        hidden = dict.fromkeys((each.maker or "" for each in book.fans.values()), MAKER)
        hidden |= dict.fromkeys((each.model or "" for each in book.fans.values()), FAN)
        hidden |= dict.fromkeys(others, FAN)
        self._said = {_plain(name): word for name, word in hidden.items() if _plain(name)}
        self._said |= {_plain(name): "" for name in kept if _plain(name)}
        self._pattern = _pattern(self._said)

    def over(self, text: str) -> str:
        """A text with other fans and makers unnamed."""
        return self._pattern.sub(lambda hit: self._said[_plain(hit[0])] or hit[0], text)


def _plain(name: str) -> str:
    return " ".join(_PARTS.split(name.casefold())).strip()


_PARTS = re.compile(r"[\s_\-]+")


def _pattern(names: Iterable[str]) -> re.Pattern[str]:
    """Any of the names as whole words, the longest first; what never fits where there is none."""
    longest_first = sorted(names, key=lambda each: (-len(each), each))
    one = "|".join(r"[\s_\-]+".join(map(re.escape, each.split(" "))) for each in longest_first)
    return re.compile(rf"(?<![^\W_])(?:{one})(?![^\W_])" if one else r"(?!)", re.IGNORECASE)
