"""Which logs make one run: those of one session where one is told; else those of one mounting whose hours overlap, or
that one logger wrote one after the other.

A log without a fan, of the rig's whole day, lies beside each run whose session or hours it shares.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from stillroom.lab.heat.nodes import LogNode
from stillroom.methods.heat.loggers import Stretch, loggers_of
from stillroom.methods.heat.moments import seconds_of


def runs_of(own: Sequence[LogNode], beside: Iterable[LogNode]) -> tuple[tuple[LogNode, ...], ...]:
    """The runs of one mounting, in order of time, each with the logs that lie beside it.

    Parameters
    ----------
    own : logs that name the mounting's fan. beside : logs of its rig that name none.
    """
    groups: list[list[LogNode]] = []
    numbers = loggers_of([_stretch(each) for each in own])
    loggers = {each.name: number for each, number in zip(own, numbers, strict=True)}

    def is_one(each: LogNode, other: LogNode) -> bool:
        return _belong(each, other) or _goes_on(each, other, loggers)

    for each in sorted(own, key=_in_time):
        group = next((one for one in groups if any(is_one(each, other) for other in one)), None)
        if group is None:
            groups.append([each])
        else:
            group.append(each)
    others = sorted(beside, key=_in_time)
    return tuple(
        (*group, *(each for each in others if any(_belong(each, one) for one in group))) for group in groups
    )


def _in_time(node: LogNode) -> tuple[float, str, int]:
    taken = node.run.placed.taken
    return node.run.hours[0], taken.file, taken.part or 0


def _belong(one: LogNode, other: LogNode) -> bool:
    """Whether two logs are of one run."""
    first, second = one.run, other.run
    if first.session and second.session:
        return first.session == second.session
    return first.hours[0] <= second.hours[1] and second.hours[0] <= first.hours[1]


def _stretch(node: LogNode) -> Stretch:
    run, taken = node.run, node.run.placed.taken
    channels = frozenset(taken.quantities) - {"time"}
    first, last = seconds_of(run.moment), seconds_of(run.ended)
    return Stretch(taken.file, channels, first, last, run.logger, run.offset)


def _goes_on(one: LogNode, other: LogNode, loggers: Mapping[str, int]) -> bool:
    """Whether one logger wrote both one after the other, for one run: no two sessions or settings are told of them."""
    first, second = one.run, other.run
    settings = {(each.placed.setting_kind, each.placed.setting) for each in (first, second)}
    apart = first.session and second.session and first.session != second.session
    return loggers[one.name] == loggers[other.name] and len(settings) == 1 and not apart
