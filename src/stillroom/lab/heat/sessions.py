"""Which logs make one run: those of one session where one is told; else those of one mounting whose hours overlap.
A log without a fan, of the rig's whole day, lies beside each run whose session or hours it shares.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from stillroom.lab.heat.nodes import LogNode


def runs_of(own: Sequence[LogNode], beside: Iterable[LogNode]) -> tuple[tuple[LogNode, ...], ...]:
    """The runs of one mounting, in order of time, each with the logs that lie beside it.

    Parameters
    ----------
    own : logs that name the mounting's fan. beside : logs of its rig that name none.
    """
    groups: list[list[LogNode]] = []
    for each in sorted(own, key=_in_time):
        group = next((one for one in groups if any(_belong(each, other) for other in one)), None)
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
