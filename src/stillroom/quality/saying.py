"""Ways to put a finding: about a run, a mounting, a fan or an obstacle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from stillroom.quality.facts import FanFacts, Gauge, MountingFacts, ObstacleFacts, ReadingFacts, RunFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.records.keys import key_of
from stillroom.records.limits import Limits

FEW = 2
"""So many odd points of a sweep mark; more block."""


@dataclass(frozen=True)
class RunContext:
    """What a rule for one run is told beside the run.

    Parameters
    ----------
    owner : name of the mounting or obstacle that it belongs to. fans : whose numbers hang on it.
    mountings : that it blocks. through : the obstacle, where it is an obstacle's own run. limits : in force.
    bores, gauges : of the rig. wires : of the fan, None where not told.
    """

    owner: str
    fans: tuple[str, ...]
    mountings: tuple[str, ...]
    through: str = ""
    limits: Limits = Limits()
    bores: Mapping[str, float] = field(default_factory=dict)
    gauges: Mapping[str, Gauge] = field(default_factory=dict)
    wires: int | None = None

    @classmethod
    def of_mounting(cls, mounting: MountingFacts, fan: FanFacts) -> RunContext:
        """The context of a mounting's runs."""
        return cls(mounting.name, (mounting.fan,), (mounting.name,), "", fan.limits, mounting.bores,
                   mounting.gauges, fan.record.wires if fan.record else None)  # fmt: skip

    @classmethod
    def of_obstacle(cls, obstacle: ObstacleFacts, limits: Limits) -> RunContext:
        """The context of an obstacle's runs."""
        return cls(obstacle.name, (), (), obstacle.name, limits, obstacle.bores, obstacle.gauges)


def about_run(
    rule: int,
    run: ReadingFacts,
    context: RunContext,
    found: str,
    expected: str,
    *,
    severity: Severity = Severity.BLOCKS,
    cause: str = "",
    test: str = "",
    line: int | None = None,
    common: str = "",
) -> Finding:
    """A finding of one run; of a sweep that the fit has left out it blocks nothing."""
    dropped = isinstance(run, RunFacts) and run.check.dropped
    blocks = severity is Severity.BLOCKS and not dropped
    place = run.file if line is None else f"{run.file}, line {line}"
    return Finding(rule, run.subject, run.key, severity, found, expected, cause, test, place, context.fans,
                   context.mountings if blocks else (), context.through, common,
                   found if rule in _SEVERAL else "")  # fmt: skip


_SEVERAL = frozenset({2, 19, 23, 26, 27, 31})
"""Rules that may find several things in one run."""


def about_mounting(
    rule: int,
    mounting: MountingFacts,
    found: str,
    expected: str,
    *,
    severity: Severity = Severity.BLOCKS,
    cause: str = "",
    test: str = "",
    common: str = "",
    through: str = "",
    what: str = "",
) -> Finding:
    """A finding of one mounting; `what` where it hangs on more than the mounting's readings, or several are found."""
    blocks = severity is Severity.BLOCKS
    place = mounting.readings[0].file if mounting.readings else ""
    return Finding(rule, mounting.subject, mounting.judged, severity, found, expected, cause, test,
                   place, (mounting.fan,), (mounting.name,) if blocks else (), through, common, what)  # fmt: skip


def about_fan(
    rule: int,
    fan: str,
    key: str,
    found: str,
    expected: str,
    *,
    severity: Severity = Severity.MARKS,
    subject: str = "",
    cause: str = "",
    test: str = "",
    place: str = "",
    common: str = "",
) -> Finding:
    """A finding of a fan as a whole, by its name."""
    subject = subject or f"fan:{fan}"
    return Finding(rule, subject, key, severity, found, expected, cause, test, place, (fan,),
                   common=common)  # fmt: skip


def about_obstacle(
    rule: int,
    obstacle: ObstacleFacts,
    found: str,
    expected: str,
    *,
    severity: Severity = Severity.MARKS,
    cause: str = "",
    test: str = "",
    common: str = "",
) -> Finding:
    """A finding of an obstacle."""
    place = obstacle.runs[0].file if obstacle.runs else ""
    return Finding(rule, obstacle.subject, obstacle.judged, severity, found, expected, cause, test, place,
                   through=obstacle.name, common=common)  # fmt: skip


def judged(fan: FanFacts) -> str:
    """Key of all that is judged of a fan."""
    return key_of("fan", fan.name, [each.judged for each in fan.mountings])


def listed(names: Sequence[str], most: int = 4) -> str:
    """Some names, and how many more."""
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def rpm(speed: float) -> str:
    """A speed [1/s] in words."""
    return f"{speed * 60:,.0f} rpm"


def mark_or_block(points: int) -> Severity:
    """One or two odd points mark, more block."""
    return Severity.MARKS if points <= FEW else Severity.BLOCKS
