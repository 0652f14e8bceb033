"""One measure then and now: values over trials in common, ranks, verdicts, and who leads."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillroom.compare.candidates import Margin, MarginKind
from stillroom.compare.standing import Ranking
from stillroom.core.arrays import Array
from stillroom.core.intervals import coverage_interval
from stillroom.lab.ranking_words import margin_words
from stillroom.measures import measure_named
from stillroom.publish.correcting.moved import (
    Difference,
    FanMoved,
    MeasureMoved,
    Movement,
    PairMoved,
    Value,
)
from stillroom.publish.tables.pairs import verdicts_in
from stillroom.vocabulary import unit

SAME = 1e-6
"""A share of a number, or of its interval, under which a difference is one of rounding: trials are kept in 32 bits."""

CONDITIONS_APART = frozenset({"size"})
"""Conditions that are told of the field, and not of each number."""


@dataclass(frozen=True)
class Then:
    """A measure as a release has it.

    Parameters
    ----------
    slug, title, words : as published. ranking : the document of its ranking (`Ranking.as_dict`), in the unit shown.
    trials : {fan: trials in SI, (M,)} of the fans that have any.
    """

    slug: str
    title: str
    words: str
    ranking: Mapping[str, Any]
    trials: Mapping[str, Array]

    @property
    def fans(self) -> tuple[str, ...]:
        """The fans that it speaks of, ranked or left out."""
        told = (*self.ranking["standings"], *self.ranking["excluded"])
        return tuple(str(each["fan"]) for each in told)


def compare_measure(then: Then, now: Ranking, among: Ranking) -> MeasureMoved:
    """What became of a measure.

    Parameters
    ----------
    now : the ranking of all fans as the lab stands. among : that of the fans which the release had, by which ranks
    and verdicts are compared: a fan that is new since moves nobody's number.
    """
    shown = str(then.ranking["unit"])
    now, among = now.in_unit(shown), among.in_unit(shown)
    old = {str(each["fan"]): _old_value(each) for each in then.ranking["standings"]}
    values, within = _new_values(now), _new_values(among)
    known = [*old, *(str(each["fan"]) for each in then.ranking["excluded"])]
    left_out = {each.fan: each.why for each in (*now.excluded, *among.excluded)}
    fans = [
        _fan(each, old.get(each), _within(values.get(each), within.get(each)), then, now, left_out)
        for each in known
    ]
    fans += [FanMoved(each, Movement.NEW, None, values[each]) for each in values if each not in known]
    best = tuple(str(each) for each in then.ranking["best"])
    return MeasureMoved(
        then.slug,
        then.title,
        shown,
        not measure_named(str(then.ranking["measure"])).absolute,
        tuple(each for each in fans if each is not None),
        tuple(_pairs(then.ranking, among)),
        (_leader(then.ranking["standings"]), _leader([each.as_dict() for each in among.standings])),
        (best, among.best),
        tuple(_notes(then.ranking, now)),
    )


def _old_value(told: Mapping[str, Any]) -> Value:
    rank = told["rank"]
    return Value(
        float(told["value"]),
        -math.inf if told["low"] is None else float(told["low"]),
        math.inf if told["high"] is None else float(told["high"]),
        str(told["bound"]),
        str(told["verdict"]),
        (int(rank[0]), int(rank[1])) if rank else None,
        str(told["how"]),
        tuple(map(str, told["marks"])),
        int(told["mountings"]),
        str(told["key"]),
    )


def _new_values(ranking: Ranking) -> dict[str, Value]:
    return {
        each.fan: Value(
            each.value, each.low, each.high, each.bound.value, each.verdict.value, each.rank, each.how.value,
            each.marks, each.mountings, each.key,
        )
        for each in ranking.standings
    }  # fmt: skip


def _within(value: Value | None, among: Value | None) -> Value | None:
    """A fan's number of the whole field, with its place among the fans that the release had."""
    if value is None or among is None:
        return value
    return Value(
        value.value, value.low, value.high, value.bound, among.verdict, among.rank, value.how, value.marks,
        value.mountings, value.key,
    )  # fmt: skip


def _fan(
    fan: str, old: Value | None, new: Value | None, then: Then, now: Ranking, left_out: Mapping[str, str]
) -> FanMoved | None:
    """One fan; None where it had no value and has none."""
    if old is None:
        return FanMoved(fan, Movement.CAME, None, new) if new else None
    if new is None:
        why = left_out.get(fan, "the lab does not know it any more")
        return FanMoved(fan, Movement.GONE, old, None, None, why)
    difference, why = difference_of(fan, old, new, then, now)
    moved = not all(
        _same(one, other, old)
        for one, other in ((old.value, new.value), (old.low, new.low), (old.high, new.high))
    )
    return FanMoved(fan, Movement.MOVED if moved else Movement.UNMOVED, old, new, difference, why)


def difference_of(fan: str, old: Value, new: Value, then: Then, now: Ranking) -> tuple[Difference, str]:
    """New minus old over trials in common, and why there is no interval where there is none."""
    value = new.value - old.value
    before, after = then.trials.get(fan), now.trials.get(fan)
    if before is None or after is None:
        return Difference(
            value, None, None
        ), "there are no trials of it: the interval of the change is not known"
    # a shorter sequence of draws is the beginning of a longer one: where the number of trials is another, the first
    # ones are in common
    common = min(before.size, after.size)
    before, after = before[:common], after[:common]
    # both in 32 bits, so that what did not move differs by nothing
    apart = after.astype(np.float32).astype(np.float64) - before.astype(np.float32).astype(np.float64)
    factor = unit(now.unit).factor
    low, high = (float(end) / factor for end in coverage_interval(apart))
    return Difference(value, min(low, value), max(high, value)), ""


def _same(one: float, other: float, of: Value) -> bool:
    """Whether two numbers differ by no more than rounding, beside a fan's value and interval."""
    if one == other or not (math.isfinite(one) and math.isfinite(other)):
        return one == other
    ends = [each for each in (of.low, of.high, of.value) if math.isfinite(each)]
    return abs(one - other) <= SAME * max(max(ends) - min(ends), abs(of.value))


def _leader(standings: Sequence[Mapping[str, Any]]) -> str:
    return next((str(each["fan"]) for each in standings if each["verdict"] == "leader"), "")


def _pairs(then: Mapping[str, Any], among: Ranking) -> list[PairMoved]:
    """The pairs of which something else is said; each in the order of the release."""
    verdicts = {(each.a, each.b): each.verdict.value for each in among.pairs}
    verdicts |= {(b, a): _TURNED.get(said, said) for (a, b), said in verdicts.items()}
    return [
        PairMoved(a, b, said.value, verdicts[(a, b)])
        for a, b, said in verdicts_in(then)
        if (a, b) in verdicts and verdicts[(a, b)] != said.value
    ]


_TURNED = {"ahead": "behind", "behind": "ahead"}


def _notes(then: Mapping[str, Any], now: Ranking) -> list[str]:
    """What else is not as it was: definition, version, margin, conditions, bridges."""
    notes = []
    if then["version"] != now.version:
        notes.append(f"The measure is defined otherwise now: version {then['version']}, now {now.version}; "
                     "old and new values are not of the same quantity.")  # fmt: skip
    if then["margin"] != _margin(now):
        was, current = (margin_words(each, now.unit) for each in (_margin_told(then["margin"]), now.margin))
        notes.append(f"The practical margin was {was} and is {current} now.")
    before, after = dict(then["conditions"]), dict(now.conditions)
    for name in dict.fromkeys([*before, *after]):
        if name not in CONDITIONS_APART and before.get(name) != after.get(name):
            notes.append(f"Condition {name}: {_told(before.get(name))}, now {_told(after.get(name))}.")
    bridges = ([each["key"] for each in then["bridges"]], [each.key for each in now.bridges])
    if bridges[0] != bridges[1]:
        notes.append("Bridges between eras of a rig are others.")
    return notes


def _margin(ranking: Ranking) -> dict[str, Any]:
    return {"size": ranking.margin.size, "kind": ranking.margin.kind.value}


def _margin_told(told: Mapping[str, Any]) -> Margin:
    """The margin of a release, as its document has it."""
    return Margin(float(told["size"]), MarginKind(told["kind"]))


def _told(value: object) -> str:
    return "not told" if value is None else str(value)
