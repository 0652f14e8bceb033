"""Which fans meet what somebody wants: surely, perhaps, not, or unknown and why."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from stillroom.compare.candidates import How
from stillroom.compare.standing import PairStanding, Ranking, Standing
from stillroom.core.multiple import Verdict
from stillroom.lab.book import Book
from stillroom.lab.sound.level_words import TOO_LOUD

THICK_ALIKE = 5e-4
"""Within which two thicknesses are one [m]: boxes print whole millimetres."""


SLACK = 1e-9
"""A share by which a bound may be missed: units turned into each other round."""


class Meets(Enum):
    """Whether a fan meets what is wanted."""

    SURELY = "yes"
    PERHAPS = "perhaps"
    NOT = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Wanted:
    """What somebody wants of a fan; None where nothing is asked.

    Parameters
    ----------
    at_least, at_most : of the measure, in the unit of the ranking. price : the most that as many fans as one answer
    takes may cost, in the currency of the list. thickness : of the frame, as printed [m].
    """

    at_least: float | None = None
    at_most: float | None = None
    price: float | None = None
    thickness: float | None = None

    @property
    def is_of_value(self) -> bool:
        """Whether it asks anything of the measure itself."""
        return self.at_least is not None or self.at_most is not None


@dataclass(frozen=True)
class Beside:
    """A fan beside the one that others are held against.

    Parameters
    ----------
    difference, low, high : its value minus that of the other, with its 95 % interval; ∓∞ where an end is open.
    verdict : of it against the other.
    """

    difference: float
    low: float
    high: float
    verdict: Verdict


@dataclass(frozen=True)
class Judgement:
    """One fan, and whether it meets what is wanted.

    Parameters
    ----------
    meets : all in all. why : what fails, is doubtful or isn't known; "" where it surely meets everything.
    standing : of the ranking; None where it has no value. price : what it costs; None where nobody told.
    beside : held against another fan; None where it can't be, or none is asked for.
    """

    fan: str
    meets: Meets
    why: str
    standing: Standing | None = None
    price: float | None = None
    beside: Beside | None = None

    @property
    def how(self) -> str:
        """How its number was had, in a word."""
        return self.standing.how.value if self.standing else How.UNKNOWN.value


def judged(ranking: Ranking, wanted: Wanted, book: Book, against: str = "") -> tuple[Judgement, ...]:
    """Each fan of a ranking, and each that could not be ranked, held against what is wanted.

    A fan surely meets a bound where its whole 95 % interval lies within it, does not where all of it lies beyond, and
    meets it perhaps otherwise. A legacy number without an interval, and a fan without a value, are unknown; a fan that
    can't run as quiet as the limit does not meet it.

    Parameters
    ----------
    against : a fan that the others are held against; "" for none.

    Returns
    -------
    Those that meet it first; within each group in the order of the ranking.
    """
    prices = {each.fan: each.price for each in ranking.prices.fans} if ranking.prices else {}
    found = [
        _all_in_all(
            each.fan,
            [
                _by_value(each, wanted),
                _by_price(prices.get(each.fan), wanted),
                _by_thickness(book, each.fan, wanted),
            ],
            each,
            prices.get(each.fan),
            beside(ranking, each.fan, against) if against and each.fan != against else None,
        )
        for each in ranking.standings
    ]
    for gone in ranking.excluded:
        meets = Meets.NOT if gone.why.startswith(TOO_LOUD) else Meets.UNKNOWN
        found.append(
            _all_in_all(
                gone.fan, [(meets, gone.why), _by_thickness(book, gone.fan, wanted)], None, None, None
            )
        )
    order = list(Meets)
    return tuple(sorted(found, key=lambda each: order.index(each.meets)))


Reason = tuple[Meets, str]


def _all_in_all(
    fan: str, reasons: list[Reason], standing: Standing | None, price: float | None, against: Beside | None
) -> Judgement:
    """The worst of all reasons decides: one that fails is enough, whatever else isn't known."""
    for worst in (Meets.NOT, Meets.UNKNOWN, Meets.PERHAPS):
        said = [why for meets, why in reasons if meets is worst]
        if said:
            return Judgement(fan, worst, "; ".join(each for each in said if each), standing, price, against)
    return Judgement(fan, Meets.SURELY, "", standing, price, against)


def _by_value(standing: Standing, wanted: Wanted) -> Reason:
    if not wanted.is_of_value:
        return Meets.SURELY, ""
    low, high = standing.low, standing.high
    if standing.how is How.LEGACY and math.isinf(low) and math.isinf(high):
        return Meets.UNKNOWN, "a number from before without an interval"
    least = -math.inf if wanted.at_least is None else wanted.at_least - SLACK * abs(wanted.at_least)
    most = math.inf if wanted.at_most is None else wanted.at_most + SLACK * abs(wanted.at_most)
    if high < least or low > most:
        return Meets.NOT, ""
    if low >= least and high <= most:
        return Meets.SURELY, ""
    return Meets.PERHAPS, "the bound lies within its interval"


def _by_price(price: float | None, wanted: Wanted) -> Reason:
    if wanted.price is None:
        return Meets.SURELY, ""
    if price is None:
        return Meets.UNKNOWN, "no price known: a row of the table of prices would tell"
    return (Meets.SURELY, "") if price <= wanted.price else (Meets.NOT, "it costs more")


def _by_thickness(book: Book, fan: str, wanted: Wanted) -> Reason:
    if wanted.thickness is None:
        return Meets.SURELY, ""
    record = book.fans.get(fan)
    if record is None or not record.thickness:
        return Meets.UNKNOWN, "thickness not told: the table of fans would tell what is printed"
    if abs(record.thickness - wanted.thickness) <= THICK_ALIKE:
        return Meets.SURELY, ""
    return Meets.NOT, f"{record.thickness * 1000:.3g} mm thick as printed"


def beside(ranking: Ranking, fan: str, other: str) -> Beside | None:
    """A fan minus another, over trials in common; None where the ranking compares them not."""
    for pair in ranking.pairs:
        if (pair.a, pair.b) == (fan, other):
            return Beside(pair.difference, pair.low, pair.high, pair.verdict)
        if (pair.a, pair.b) == (other, fan):
            return _turned(pair)
    return None


def _turned(pair: PairStanding) -> Beside:
    return Beside(-pair.difference, -pair.high, -pair.low, TURNED.get(pair.verdict, pair.verdict))


TURNED: Mapping[Verdict, Verdict] = {Verdict.AHEAD: Verdict.BEHIND, Verdict.BEHIND: Verdict.AHEAD}
