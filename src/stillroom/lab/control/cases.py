"""A fan's value of a control measure from its mountings, with the spread between mountings and between samples."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.compare.candidates import Bound, Candidate, Ends, How
from stillroom.core.arrays import Array
from stillroom.core.combine import FanValue, MountingResult, combine_mountings
from stillroom.core.draws import normal_draws
from stillroom.core.spread import MountingValue, PooledSpread, Spreads, pooled_spreads
from stillroom.errors import StillroomError
from stillroom.lab.book import Book
from stillroom.lab.control.loading import load_control
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.kept_value import Uncertainty, kept_value, spread_told
from stillroom.lab.question import Question, spread_name
from stillroom.lab.spreads import agree_on
from stillroom.lab.valuing import FanCase
from stillroom.measures import Condition, Measure
from stillroom.measures import control as measures
from stillroom.measures.control import ControlValue, control_value
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result

VERSION = 1
"""Raised when the same control behaviour would give another value."""

PRIORS: Mapping[str, tuple[float, float]] = {
    measures.START_DUTY: (0.08, 0.04),
    measures.STOP_DUTY: (0.08, 0.04),
    measures.LOWEST_DUTY: (0.08, 0.04),
    measures.START_VOLTAGE: (0.05, 0.02),
    measures.STOP_VOLTAGE: (0.05, 0.02),
    measures.LOWEST_SPEED: (0.04, 0.01),
    measures.LINEARITY: (0.10, 0.03),
    measures.OPEN_WIRE: (0.003, 0.001),
    measures.INRUSH: (0.06, 0.03),
}
"""Between samples and between mountings, relative [1], assumed before the lab has its own (our choice)."""


@dataclass(frozen=True)
class Taken:
    """A measure in one mounting, with its node."""

    node: ControlNode
    value: ControlValue


def taken_of(lab: Lab, nodes: Sequence[ControlNode], measure: Measure) -> tuple[list[Taken], list[str]]:
    """A measure in those mountings that have it, and why others don't."""
    found: list[Taken] = []
    failed: list[str] = []
    for node in nodes:
        result = results.get(lab.database, node.key)
        try:
            if result is None:
                failed.append("not reduced yet")
            else:
                found.append(Taken(node, control_value(load_control(lab.path, result), measure.name)))
        except StillroomError as error:
            failed.append(error.found or error.sentence())
    return found, failed


def spreads_of(
    lab: Lab,
    book: Book,
    measure: Measure,
    taken: Mapping[str, Sequence[Taken]],
    blocked: Mapping[str, str],
    *,
    keep: bool,
) -> tuple[Spreads, Book]:
    """The spread of a measure: the agreed one, else that of the mountings that nothing blocks, which is then agreed.

    Parameters
    ----------
    taken : by fan. blocked : {mounting: rule}. keep : whether to agree on it where none is agreed.
    """
    name = spread_name(measure, Condition())
    agreed = book.spreads.get(name)
    if agreed is not None:
        mounting, sample = (agreed.mounting, agreed.mounting_dof), (agreed.sample, agreed.sample_dof)
        return Spreads(PooledSpread.agreed(*mounting), PooledSpread.agreed(*sample)), book
    every = [each for own in taken.values() for each in own]
    sound = [each for each in every if each.node.blocked_as not in blocked]
    values = [
        MountingValue(each.node.fan, each.node.sample, each.node.subject, each.value.value)
        for each in sound
        if each.value.value > 0.0
    ]
    of_samples, of_mountings = PRIORS[measure.name]
    spreads = pooled_spreads(values, prior_sample_sd=of_samples, prior_mounting_sd=of_mountings)
    if keep and len(sound) == len(every):
        book = agree_on(lab, book, name, spreads, len(taken))
    return spreads, book


def fan_case(
    fan: str, own: Sequence[Taken], measure: Measure, spreads: Spreads, marks: Sequence[str], trials: int
) -> FanCase:
    """A fan's value: the mean over its samples of the means over their mountings.

    Of a threshold both ends are taken so; where one mounting tells but one end, so does the fan.

    Parameters
    ----------
    own : its mountings with the measure, at least one. marks : beside its value. trials : number of trials.
    """
    value = _combined(own, [each.value.value for each in own], measure, spreads, trials)
    lows = [each.value.low for each in own]
    highs = [each.value.high for each in own]
    bound, ends = Bound.NONE, None
    if any(each is None for each in lows):
        bound = Bound.AT_MOST
        value = _combined(own, [_known(each.value.high, each) for each in own], measure, spreads, trials)
    elif any(each is None for each in highs):
        bound = Bound.AT_LEAST
        value = _combined(own, [_known(each.value.low, each) for each in own], measure, spreads, trials)
    elif any(each.value.low != each.value.high for each in own):
        low, high = (_combined(own, [_known(one, None) for one in several], measure, spreads, trials)
                     for several in (lows, highs))  # fmt: skip
        bound, ends = Bound.RANGE, Ends(low.value, high.value, low.trials, high.trials)
    said = [*(mark for each in own for mark in each.value.marks), *marks]
    key = key_of("control value", VERSION, measure.name, measure.version, [each.node.key for each in own],
                 spread_told(spreads), trials, sorted(said))  # fmt: skip
    candidate = Candidate(
        fan=fan,
        value=value.value,
        trials=value.trials,
        parts=value.parts,
        how=How.INTERPOLATED if any(each.value.is_interpolated for each in own) else How.MEASURED,
        samples=value.samples,
        mountings=value.mountings,
        key=key,
        marks=tuple(dict.fromkeys(said)),
        bound=bound,
        ends=ends,
    )
    return FanCase(candidate, value, _kept(candidate, own, measure, value, spreads))


def _known(end: float | None, each: Taken | None) -> float:
    """An end, or of a mounting without it the end that was seen."""
    if end is not None:
        return end
    assert each is not None  # only mountings that tell one end have none
    return each.value.value


NOTHING = PooledSpread.agreed(0.0, 1.0)


def _combined(
    own: Sequence[Taken], values: Sequence[float], measure: Measure, spreads: Spreads, trials: int
) -> FanValue:
    mountings = [_result(each, value, measure, trials) for each, value in zip(own, values, strict=True)]
    name = spread_name(measure, Condition())
    if not any(values):  # a setting of nought has no relative spread
        return combine_mountings(mountings, Spreads(NOTHING, NOTHING), identity=name, scale=1.0)
    usable = all(values)
    return combine_mountings(mountings, spreads, identity=name, scale=None if usable else max(values))


def _result(each: Taken, value: float, measure: Measure, trials: int) -> MountingResult:
    """One mounting as mountings are combined: its errors of its own, and what the speed meter shares."""
    shared: Array = np.full(trials, value)
    share = value / each.value.value if each.value.value else 1.0
    loadings = {name: change * share for name, change in each.value.loadings.items()}
    for name, change in loadings.items():
        shared = shared + change * normal_draws(name, trials)
    noise = each.value.u * normal_draws(f"control/{measure.name}/{each.node.subject}", trials)
    return MountingResult(
        f"{each.node.fan}/{each.node.sample}", each.node.subject, value, shared, noise, loadings
    )


def _kept(
    candidate: Candidate, own: Sequence[Taken], measure: Measure, value: FanValue, spreads: Spreads
) -> Result:
    """The result that is kept for tracing."""
    return kept_value(
        candidate,
        Question(measure, Condition()),
        Uncertainty.of(value, spreads),
        inputs={"values": {each.node.subject: each.node.key for each in own}},
        each={each.node.subject: each.value.value for each in own},
    )
