"""A finished ranking: what charts, tables and JSON take as it is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from stillroom.compare.candidates import Bound, Excluded, How, Margin, MarginKind, StandingVerdict
from stillroom.compare.priced import PriceList
from stillroom.compare.worth import Worth
from stillroom.core.arrays import Array
from stillroom.core.multiple import Verdict
from stillroom.core.settling import Further, Settling
from stillroom.errors import Contradiction
from stillroom.vocabulary import unit

SCHEMA = "stillroom/standings/1"
"""Name and version of the JSON document; the number rises when a field changes its meaning or goes."""

Plain = str | int | float | bool | None
Json = Plain | list["Json"] | dict[str, "Json"]


@dataclass(frozen=True)
class Standing:
    """One fan in the list.

    Parameters
    ----------
    fan, value : the fan and its published value.
    low, high : 95 % interval of the value; ∓∞ where a bound leaves that end open.
    bound : what kind of value it is.
    rank : simultaneous 95 % interval of its rank, from and to, 1 the best; None for a legacy number.
    verdict : against the leader.
    how, samples, mountings, marks, key : as of the candidate. ends : both ends of a range; else None.
    """

    fan: str
    value: float
    low: float
    high: float
    bound: Bound
    rank: tuple[int, int] | None
    verdict: StandingVerdict
    how: How
    samples: int
    mountings: int
    marks: tuple[str, ...]
    key: str
    ends: tuple[float, float] | None = None

    def as_dict(self) -> dict[str, Json]:
        """The documented JSON of one standing; an open end is null."""
        return {
            "fan": self.fan,
            "value": self.value,
            "low": _or_null(self.low),
            "high": _or_null(self.high),
            "bound": self.bound.value,
            "ends": list(self.ends) if self.ends else None,
            "rank": list(self.rank) if self.rank else None,
            "verdict": self.verdict.value,
            "how": self.how.value,
            "samples": self.samples,
            "mountings": self.mountings,
            "marks": list(self.marks),
            "key": self.key,
        }


@dataclass(frozen=True)
class PairStanding:
    """Two fans of the list, the one that stands higher first.

    Parameters
    ----------
    a, b : the fans.
    difference : value of a minus value of b.
    low, high : its 95 % interval; ∓∞ where a bound leaves that end open.
    verdict : of a against b.
    further : what would settle it.
    """

    a: str
    b: str
    difference: float
    low: float
    high: float
    verdict: Verdict
    further: Further

    def as_dict(self) -> dict[str, Json]:
        """The documented JSON of one pair.

        `mountings_needed` is 0 where the pair is settled, the number of further mountings of each fan where
        that would settle it, and null where no number would; `settles` says in words what would.
        """
        settling, count = self.further.settling, self.further.count
        mountings = {Settling.SETTLED: 0, Settling.MORE_MOUNTINGS: count}.get(settling)
        samples = {Settling.SETTLED: 0, Settling.MORE_SAMPLES: count}.get(settling)
        return {
            "a": self.a,
            "b": self.b,
            "difference": self.difference,
            "low": _or_null(self.low),
            "high": _or_null(self.high),
            "verdict": self.verdict.value,
            "mountings_needed": mountings,
            "samples_needed": samples,
            "settles": settling.value,
        }


@dataclass(frozen=True)
class BridgeNote:
    """A bridge by which values of an earlier era of a rig were brought to the latest one.

    Parameters
    ----------
    rig : its name. era : from which to which. event : with which the latest one began.
    change : by which values were multiplied [1], or what was added to them. low, high : its 95 % interval by
    mountings and readings. samples : on which it rests. mountings : how many before and after.
    agree : whether the samples agree. key : of the result.
    unit : in which something was added ("K", "dB"); "" where values were multiplied.
    """

    rig: str
    era: tuple[int, int]
    event: str
    change: float
    low: float
    high: float
    samples: tuple[str, ...]
    mountings: tuple[int, int]
    agree: bool
    key: str
    unit: str = ""

    @property
    def words(self) -> str:
        """What was done to values, with the interval: "× 1.0123 (1.0021 to 1.0226)", "−0.84 K (−1.1 to −0.6)"."""
        if not self.unit:
            return f"× {self.change:.4f} ({self.low:.4f} to {self.high:.4f})"
        change, low, high = (f"{each:+.2f}".replace("-", "−") for each in (self.change, self.low, self.high))
        return f"{change} {self.unit} ({low} to {high})"

    def as_dict(self) -> dict[str, Json]:
        """The documented JSON of one bridge: "ratio", or "difference" with its "unit"."""
        told: dict[str, Json] = {"ratio": self.change}
        if self.unit:
            told = {"difference": self.change, "unit": self.unit}
        return {
            "rig": self.rig,
            "era": list(self.era),
            "event": self.event,
            **told,
            "low": self.low,
            "high": self.high,
            "samples": list(self.samples),
            "mountings": list(self.mountings),
            "agree": self.agree,
            "key": self.key,
        }


@dataclass(frozen=True)
class Ranking:
    """All fans of one measure under one condition.

    Parameters
    ----------
    measure, definition, version : the measure's name, its definition in words, its version.
    unit : unit of all values, as in the vocabulary; an absolute margin is in it too.
    conditions : the condition under which the fans were compared.
    margin : the practical margin.
    standings : from the best value to the worst, equal values by name; legacy numbers under the others.
    pairs : every two fans, in the order of the list.
    best : fans that can't be excluded as the best: the leader and all that are not behind it, in the order of the list.
    excluded : fans that can't be ranked.
    bridges : by which values of earlier eras of a rig were brought to the latest.
    prices : what prices say beside it, where any fan has one. worth : of a decibel, where a noise limit sets the speed.
    trials : the trials of each measured fan, (M,), in SI whatever the unit; not part of the document.
    """

    measure: str
    definition: str
    version: str
    unit: str
    conditions: Mapping[str, Plain]
    margin: Margin
    standings: tuple[Standing, ...]
    pairs: tuple[PairStanding, ...]
    best: tuple[str, ...]
    excluded: tuple[Excluded, ...]
    bridges: tuple[BridgeNote, ...] = ()
    prices: PriceList | None = None
    worth: Worth | None = None
    trials: Mapping[str, Array] = field(default_factory=dict, compare=False, repr=False)

    def as_dict(self) -> dict[str, Json]:
        """The documented JSON of a ranking, in the unit that the ranking is in."""
        return {
            "schema": SCHEMA,
            "measure": self.measure,
            "definition": self.definition,
            "version": self.version,
            "unit": self.unit,
            "conditions": dict(self.conditions),
            "margin": {"size": self.margin.size, "kind": self.margin.kind.value},
            "standings": [each.as_dict() for each in self.standings],
            "pairs": [each.as_dict() for each in self.pairs],
            "best": list(self.best),
            "excluded": [
                {"fan": each.fan, "why": each.why, "measured": each.measured} for each in self.excluded
            ],
            "bridges": [each.as_dict() for each in self.bridges],
            "prices": self.prices.as_dict() if self.prices else None,
            "worth": self.worth.as_dict() if self.worth else None,
        }

    def in_unit(self, symbol: str) -> Ranking:
        """The same ranking in another unit of the same dimension; differences change by the factor only.

        Raises
        ------
        UnknownUnit : the word is not in the vocabulary.
        Contradiction : the unit belongs to another dimension.
        """
        here, there = unit(self.unit), unit(symbol)
        if here.dimension != there.dimension:
            raise Contradiction(
                f"unit of {self.measure}",
                found=f"{symbol} ({there.dimension})",
                expected=f"a {here.dimension}",
            )
        factor = here.factor / there.factor
        shift = (here.offset - there.offset) / there.factor
        standings = tuple(
            replace(
                each,
                value=each.value * factor + shift,
                low=each.low * factor + shift,
                high=each.high * factor + shift,
                ends=each.ends and (each.ends[0] * factor + shift, each.ends[1] * factor + shift),
            )
            for each in self.standings
        )
        pairs = tuple(
            replace(each, difference=each.difference * factor, low=each.low * factor, high=each.high * factor)
            for each in self.pairs
        )
        margin = self.margin
        if margin.kind is MarginKind.ABSOLUTE:
            margin = Margin(margin.size * factor, margin.kind)
        return replace(
            self,
            unit=there.symbol,
            margin=margin,
            standings=standings,
            pairs=pairs,
            prices=self.prices.times(factor) if self.prices else None,
            worth=self.worth.times(factor) if self.worth else None,
        )


def _or_null(value: float) -> float | None:
    """An open end has no number in JSON."""
    return value if math.isfinite(value) else None
