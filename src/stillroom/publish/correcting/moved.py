"""What moved since a release: the shapes in which it is told."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

from stillroom.publish.account import Kind
from stillroom.publish.correcting.changes import Change, Matter


class Movement(Enum):
    """What became of a fan's number."""

    UNMOVED = "not moved"
    MOVED = "moved"
    NEW = "new since"
    CAME = "had no value then"
    GONE = "has no value now"


@dataclass(frozen=True)
class Value:
    """A fan's number as a ranking has it, in the unit that the release shows."""

    value: float
    low: float
    high: float
    bound: str
    verdict: str
    rank: tuple[int, int] | None
    how: str
    marks: tuple[str, ...]
    mountings: int
    key: str

    def as_dict(self) -> dict[str, Any]:
        """As data; an open end is null."""
        ends = {name: each if math.isfinite(each) else None
                for name, each in (("low", self.low), ("high", self.high))}  # fmt: skip
        return {
            "value": self.value, **ends, "bound": self.bound, "verdict": self.verdict,
            "rank": list(self.rank) if self.rank else None, "how": self.how, "marks": list(self.marks),
            "mountings": self.mountings, "key": self.key,
        }  # fmt: skip


@dataclass(frozen=True)
class Difference:
    """New minus old, in the unit that the release shows, with its 95 % interval over trials in common.

    `low` and `high` are None where there are no trials in common.
    """

    value: float
    low: float | None
    high: float | None

    def as_dict(self) -> dict[str, float | None]:
        """As data."""
        return {"value": self.value, "low": self.low, "high": self.high}


@dataclass(frozen=True)
class FanMoved:
    """What became of one fan in one measure.

    Parameters
    ----------
    old, new : its numbers, None where it had or has none. difference : of them; None without both.
    why : why it has no value, or why the difference has no interval; "" otherwise.
    """

    fan: str
    movement: Movement
    old: Value | None = None
    new: Value | None = None
    difference: Difference | None = None
    why: str = ""

    @property
    def is_moved(self) -> bool:
        """Whether anything that was published of it is not so any more; a fan that is new was not published."""
        if self.movement is not Movement.UNMOVED:
            return self.movement is not Movement.NEW
        return self.rank_moved or self.verdict_moved or self.remarks_moved

    @property
    def rank_moved(self) -> bool:
        """Whether its ranks are others."""
        return bool(self.old and self.new and self.old.rank != self.new.rank)

    @property
    def verdict_moved(self) -> bool:
        """Whether its verdict against the leader is another."""
        return bool(self.old and self.new and self.old.verdict != self.new.verdict)

    @property
    def remarks_moved(self) -> bool:
        """Whether what stands beside the number is other."""
        return bool(self.old and self.new and _beside(self.old) != _beside(self.new))

    def as_dict(self) -> dict[str, Any]:
        """As data."""
        return {
            "fan": self.fan, "movement": self.movement.value,
            "old": self.old.as_dict() if self.old else None, "new": self.new.as_dict() if self.new else None,
            "difference": self.difference.as_dict() if self.difference else None, "why": self.why,
        }  # fmt: skip


def _beside(value: Value) -> tuple[object, ...]:
    return value.bound, value.how, value.marks, value.mountings


@dataclass(frozen=True)
class PairMoved:
    """Two fans between which something else is said now: "ahead", "behind", "tied" or "not resolved", of a to b."""

    a: str
    b: str
    before: str
    now: str

    def as_dict(self) -> dict[str, str]:
        """As data."""
        return {"a": self.a, "b": self.b, "before": self.before, "now": self.now}


@dataclass(frozen=True)
class MeasureMoved:
    """What became of one published measure.

    Parameters
    ----------
    slug, title, unit : as the release has them. relative : whether a change may be told as a share.
    fans : of the release, in its order, then those that are new since. pairs : of which something else is said.
    leader, best : then and now, among the fans that the release had. notes : what else is not as it was (the
    margin, the definition, the number of trials). gone : why it can't be compared any more; "" where it can.
    """

    slug: str
    title: str
    unit: str
    relative: bool = True
    fans: tuple[FanMoved, ...] = ()
    pairs: tuple[PairMoved, ...] = ()
    leader: tuple[str, str] = ("", "")
    best: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
    notes: tuple[str, ...] = ()
    gone: str = ""

    @property
    def moved(self) -> tuple[FanMoved, ...]:
        """The fans of which something that was published is not so any more."""
        return tuple(each for each in self.fans if each.is_moved)

    @property
    def is_moved(self) -> bool:
        """Whether anything that was published of it is not so any more."""
        return bool(self.gone or self.moved or self.pairs or self.notes or self.winner_changed)

    @property
    def winner_changed(self) -> bool:
        """Whether another fan leads, or the fans that can't be excluded as the best are others."""
        return self.leader[0] != self.leader[1] or set(self.best[0]) != set(self.best[1])

    def as_dict(self) -> dict[str, Any]:
        """As data."""
        return {
            "slug": self.slug, "title": self.title, "unit": self.unit, "moved": self.is_moved, "gone": self.gone,
            "winner_changed": self.winner_changed,
            "leader": {"before": self.leader[0], "now": self.leader[1]},
            "best": {"before": list(self.best[0]), "now": list(self.best[1])},
            "notes": list(self.notes),
            "fans": [each.as_dict() for each in self.fans],
            "pairs": [each.as_dict() for each in self.pairs],
        }  # fmt: skip


@dataclass(frozen=True)
class SentenceMoved:
    """A sentence of the account that does not stand any more, or is new: "" where there is none."""

    slug: str
    kind: str
    before: str
    now: str

    @property
    def is_of_numbers(self) -> bool:
        """Whether it is of a measure, a box or a dispute; others only say what was decided."""
        return bool(self.slug) or self.kind in (Kind.CLAIM, Kind.DISPUTE)

    def as_dict(self) -> dict[str, str]:
        """As data."""
        return {"slug": self.slug, "kind": self.kind, "before": self.before, "now": self.now}


@dataclass(frozen=True)
class PieceMoved:
    """A chart, table or document of the release that is not up to date any more, and why."""

    name: str
    why: str

    def as_dict(self) -> dict[str, str]:
        """As data."""
        return {"name": self.name, "why": self.why}


@dataclass(frozen=True)
class Moved:
    """What moved since a release, and why.

    Parameters
    ----------
    release : its name. frozen : its date. date : of the comparison. lab : its name.
    changes : what is not as it was. measures : every measure of the release. sentences : of the account.
    charts, documents : that are not up to date any more. unknown : what can't be compared, and why.
    damage : files of the release that are not what its manifest says.
    """

    release: str
    frozen: str
    date: str
    lab: str
    changes: tuple[Change, ...]
    measures: tuple[MeasureMoved, ...]
    sentences: tuple[SentenceMoved, ...] = ()
    charts: tuple[PieceMoved, ...] = ()
    documents: tuple[PieceMoved, ...] = ()
    unknown: tuple[str, ...] = ()
    damage: tuple[str, ...] = ()

    @property
    def is_moved(self) -> bool:
        """Whether anything that the release says is not so any more."""
        said = any(each.is_of_numbers for each in self.sentences)
        return said or bool(self.charts) or any(each.is_moved for each in self.measures)

    @property
    def lapsed(self) -> tuple[Change, ...]:
        """The exclusions of the release that stand no more: what they left out is in the new numbers."""
        return tuple(each for each in self.changes if each.matter is Matter.LAPSED)

    @property
    def winner_changed(self) -> tuple[MeasureMoved, ...]:
        """The measures whose winner is another."""
        return tuple(each for each in self.measures if each.winner_changed)

    def as_dict(self) -> Mapping[str, Any]:
        """As data."""
        return {
            "schema": SCHEMA,
            "release": self.release, "frozen": self.frozen, "date": self.date, "moved": self.is_moved,
            "winner_changed": [each.slug for each in self.winner_changed],
            "changes": [each.as_dict() for each in self.changes],
            "measures": [each.as_dict() for each in self.measures],
            "sentences": [each.as_dict() for each in self.sentences],
            "charts": [each.as_dict() for each in self.charts],
            "documents": [each.as_dict() for each in self.documents],
            "unknown": list(self.unknown), "damage": list(self.damage),
        }  # fmt: skip


SCHEMA = "stillroom/moved/1"
"""Name and version of the JSON document; the number rises when a field changes its meaning or goes."""
