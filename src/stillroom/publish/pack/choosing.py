"""Which fans a page that can't hold all shows: one rule, the same for every chart of a release."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stillroom import wording

WIDE_BARS = 10
"""The most bars on a wide or square page."""

RULE = (
    "A page shows as many fans as it holds, wide and square pages ten: first the fan under review, then those that"
    " can't be excluded as the best, then the others, each in the order of the ranking. What is shown stands in the"
    " order of the whole ranking."
)
"""How fans are chosen, in words."""


@dataclass(frozen=True)
class Chosen:
    """The fans that a page shows, and what it doesn't.

    Parameters
    ----------
    names : the fans shown, in the order of the ranking. ranked : how many fans are ranked.
    best : how many of all can't be excluded as the best. best_left : how many of those aren't shown.
    fan : under review; "" where none is, it isn't ranked, or is one of the best.
    """

    names: tuple[str, ...]
    ranked: int
    best: int
    best_left: int
    fan: str

    @property
    def is_whole(self) -> bool:
        """Whether every ranked fan is shown."""
        return len(self.names) == self.ranked

    @property
    def words(self) -> str:
        """What stands on the page about it; "" where every fan is shown."""
        if self.is_whole:
            return ""
        tied = f"the {wording.count(self.best)} that may be the best" if self.best > 1 else "the best"
        if self.best_left:
            tied = f"the first of {tied}"
        shown = [*([self.fan] if self.fan else []), *([tied] if self.best else [])]
        if len(self.names) > self.best + bool(self.fan):
            shown.append("the next in order")
        left = (
            f" Not shown: {wording.count(self.best_left)} of those that may be the best."
            if self.best_left
            else ""
        )
        return (
            f"Shown are {wording.number(len(self.names))} of {wording.number(self.ranked)} fans: "
            f"{wording.listed(shown)}.{left} The data table has all."
        )


def chosen(order: Sequence[str], best: Sequence[str], fan: str, most: int) -> Chosen:
    """The fans that a page of at most `most` bars shows, by the rule.

    Parameters
    ----------
    order : all ranked fans. best : those that can't be excluded as the best. fan : under review, or "".
    """
    reviewed = fan if fan in order else ""
    tied = [each for each in order if each in best]
    first = dict.fromkeys([*([reviewed] if reviewed else []), *tied, *order])
    shown = set(list(first)[:most])
    return Chosen(
        names=tuple(each for each in order if each in shown),
        ranked=len(order),
        best=len(tied),
        best_left=len([each for each in tied if each not in shown]),
        fan="" if reviewed in tied else reviewed,
    )
