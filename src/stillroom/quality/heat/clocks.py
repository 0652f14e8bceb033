"""Rule 52: loggers whose clocks are apart."""

from __future__ import annotations

import math
from collections.abc import Iterator

from stillroom.core.heat.clocks import How
from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import ClockFacts, WarmMounting
from stillroom.quality.heat.saying import BLOCKS, about_heat
from stillroom.records.limits import Limits

SET = "set both clocks by the same watch; note the offset in the run table as clock offset"


def clocks(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """A stated offset that shared edges contradict blocks; a clock that was off and put right by them, or that nothing
    aligns, marks.
    """
    for clock in mounting.clocks:
        if clock.is_paired and How(clock.how) in _OF:
            yield from _OF[How(clock.how)](mounting, clock, limits)


def _stated(mounting: WarmMounting, clock: ClockFacts, limits: Limits) -> Iterator[Finding]:
    if clock.found is None:
        return
    apart = abs(clock.found - clock.offset)
    sure = 2.0 * math.hypot(clock.u or 0.0, clock.u_found or 0.0)
    if apart > limits.clock_skew + sure:
        yield about_heat(
            52, mounting, f"clock {clock.logger}",
            f"{clock.logger} of {mounting.name}: the offset told is {clock.offset:+.0f} s, {_edges(clock)} tell"
            f" {clock.found:+.0f} s",
            f"within {limits.clock_skew:g} s", severity=BLOCKS,
            cause="the offset was told with the wrong sign, or the clock was set since", test=SET,
            common="a clock's offset contradicts what both loggers saw",
        )  # fmt: skip


def _shared(mounting: WarmMounting, clock: ClockFacts, limits: Limits) -> Iterator[Finding]:
    u = clock.u or 0.0
    if abs(clock.offset) > limits.clock_skew + 2.0 * u:
        yield about_heat(
            52, mounting, f"clock {clock.logger}",
            f"{clock.logger} of {mounting.name} was {abs(clock.offset):.0f} s"
            f" {'behind' if clock.offset > 0.0 else 'ahead'}; put right by {_edges(clock)}, within {2.0 * u:.0f} s",
            f"within {limits.clock_skew:g} s, or told", cause="the logger's clock was off, and nobody wrote it down",
            test=SET, common="a logger's clock was off",
        )  # fmt: skip


def _unaligned(mounting: WarmMounting, clock: ClockFacts, limits: Limits) -> Iterator[Finding]:
    yield about_heat(
        52, mounting, f"clock {clock.logger}",
        f"{clock.logger} of {mounting.name}: nothing shows how its clock stands to the other's ({clock.why})",
        f"an event that both loggers see, or a told offset, within {limits.clock_skew:g} s",
        cause="the loggers read nothing in common that changes", test="switch the heater off and on for ten seconds"
        " while both are logging; or " + SET, common="clocks that nothing aligns",
    )  # fmt: skip


def _edges(clock: ClockFacts) -> str:
    return "a change that both saw" if clock.edges == 1 else f"{clock.edges} changes that both saw"


_OF = {
    How.STATED: _stated,
    How.SHARED_EDGE: _shared,
    How.NOT_ALIGNED: _unaligned,
}
