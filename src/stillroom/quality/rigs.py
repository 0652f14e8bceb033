"""Rules 3, 4 and 45: the reference fan's checks of a rig, events that change it, and eras without a bridge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from stillroom.core.control_chart import Signal
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.records.keys import key_of

FAR = 0.05
"""A bridge whose ratio lies further from one than this is said aloud [1]."""

FAR_BY = {"K": 1.0, "dB": 2.0}
"""The same of a bridge by a difference, by its unit."""


@dataclass(frozen=True)
class CheckFacts:
    """One check of a rig by its reference fan.

    Parameters
    ----------
    mounting, day, judged : its mounting, its date, the key that findings judge.
    why_not : why it is no valid check, or "".
    signals : {line of the chart: what it says}. said : {line: value and limits in words}.
    event : what the log holds last before it, or "".
    """

    mounting: str
    day: str
    judged: str
    why_not: str
    signals: Mapping[str, tuple[Signal, ...]]
    said: Mapping[str, str]
    event: str = ""

    @property
    def outside(self) -> tuple[str, ...]:
        """The lines on which it lies outside 3 s."""
        return tuple(line for line, signals in self.signals.items() if Signal.OUTSIDE in signals)

    @property
    def good(self) -> bool:
        """Whether the day's runs may lean on it."""
        return not self.why_not and not self.outside


@dataclass(frozen=True)
class DayFacts:
    """What was measured on a rig on a day, the reference fan left out: {mounting: fan}."""

    day: str
    mountings: Mapping[str, str]


@dataclass(frozen=True)
class EraFacts:
    """An era of a rig.

    Parameters
    ----------
    number, began, why : as of the era. mountings : {mounting: fan} of what no open finding blocks.
    bridged : whether samples in common lead from an earlier era to this one. advice : what would bridge it.
    """

    number: int
    began: str
    why: str
    mountings: Mapping[str, str]
    bridged: bool
    advice: str = ""


@dataclass(frozen=True)
class BridgeFacts:
    """A bridge of a rig: of which measure, between which eras, and whether its samples agree.

    Parameters
    ----------
    change, low, high : a ratio with its interval [1]; with a `unit` ("K", "dB") a difference in it.
    """

    measure: str
    eras: tuple[int, int]
    event: str
    change: float
    low: float
    high: float
    agree: bool
    key: str
    unit: str = ""

    @property
    def is_far(self) -> bool:
        """Whether it moves values further than a change of a rig usually does."""
        return abs(self.change) > FAR_BY[self.unit] if self.unit else abs(self.change - 1.0) > FAR

    @property
    def words(self) -> str:
        """By what values moved, with the interval."""
        if self.unit:
            return f"{self.change:+.2f} {self.unit} ({self.low:+.2f} to {self.high:+.2f} {self.unit})"
        change, low, high = (100 * (each - 1) for each in (self.change, self.low, self.high))
        return f"{change:+.1f} % ({low:+.1f} to {high:+.1f} %)"


@dataclass(frozen=True)
class WatchFacts:
    """A rig and what watches it.

    Parameters
    ----------
    rig : its name. reference : the reference fan with its sample, "" where none is named.
    checks, days, eras, bridges : each in the order of time.
    swaps : (date, what changed in the rig's record) of instruments changed without an event.
    """

    rig: str
    reference: str
    checks: tuple[CheckFacts, ...]
    days: tuple[DayFacts, ...]
    eras: tuple[EraFacts, ...]
    bridges: tuple[BridgeFacts, ...]
    swaps: tuple[tuple[str, str], ...] = ()

    @property
    def words(self) -> str:
        """The rig as people name it."""
        return self.rig or "the rig"


def check_watch(rig: WatchFacts) -> list[Finding]:
    """The findings of rules 3, 4 and 45 on one rig."""
    rules = (days_unchecked, signals, unbridged_events, swaps, far_bridges, mixed_eras)
    return [finding for rule in rules for finding in rule(rig)]


def _fans(mountings: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(sorted(set(mountings.values())))


def _listed(names: Sequence[str], most: int = 4) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


# --- rule 3 ------------------------------------------------------------------------------------------------


def days_unchecked(rig: WatchFacts) -> Iterator[Finding]:
    """Rule 3: days with runs and no valid check; what lies before the first check is one finding."""
    if not rig.reference:
        return
    good = {each.day for each in rig.checks if each.good}
    first = min((each.day for each in rig.checks), default="9999")
    before = {name: fan for day in rig.days if day.day < first for name, fan in day.mountings.items()}
    test = f"mount {rig.reference} before the first fan of the day, better also at noon and at the end"
    if before:
        said = f"before its first check on {first}" if rig.checks else "without any check"
        yield Finding(
            3, f"rig:{rig.rig}", key_of("unchecked", rig.rig, sorted(before)), Severity.MARKS,
            f"{len(before)} mountings on {rig.words} were measured {said}: {_listed(sorted(before))}",
            f"a run of the reference fan {rig.reference} each day", test=test, fans=_fans(before),
        )  # fmt: skip
    for day in rig.days:
        if day.day < first or day.day in good:
            continue
        tried = [each for each in rig.checks if each.day == day.day]
        if any(each.outside for each in tried):
            continue  # said of the check itself
        why = f"the check is not valid: {tried[-1].why_not}" if tried else "no run of the reference fan"
        yield Finding(
            3, f"day:{rig.rig} {day.day}", key_of("unchecked", rig.rig, day.day, sorted(day.mountings), why),
            Severity.MARKS, f"{day.day} on {rig.words}: {why}, while {_listed(sorted(day.mountings))}"
            f" {'was' if len(day.mountings) == 1 else 'were'} measured",
            f"a valid run of {rig.reference} that day", test=test, fans=_fans(day.mountings),
        )  # fmt: skip


CAUSES: dict[frozenset[str], tuple[str, str]] = {
    frozenset({"free-speed"}): (
        "the supply voltage or the control signal, or the tachometer",
        "read the voltage at the fan's connector, and hold an optical tachometer against the wire",
    ),
    frozenset({"maximum-pressure"}): (
        "the zero or the tube of the pressure gauge, or a leak",
        "read the gauge's zero with the tubes off, then squeeze each tube's end",
    ),
    frozenset({"free-airflow"}): (
        "a nozzle that is dirty or listed wrongly, or the nozzles' gauge and its tubes",
        "look into the nozzles, read the zero of their gauge, and squeeze each tube's end",
    ),
    frozenset({"level"}): (
        "the microphone, its place or its calibrator, or the room",
        "measure the microphone's distance and angle, and record the calibrator once more",
    ),
    frozenset({"heat"}): (
        "the liquid's flow or air in the loop, a probe, or the heater's reading",
        "read the liquid's flow, look for air at the highest point, and hold two probes together",
    ),
    frozenset({"free-airflow", "maximum-pressure"}): (
        "the tachometer, the readings of the air, or a leak",
        "hold an optical tachometer against the wire, then feel along the seal with the fan shut off",
    ),
}
"""{lines that are out together: the probable cause, and a test of a minute}."""

OTHERWISE = ("the rig has changed, or the reference fan has", "mount the reference fan once more")


def _cause(check: CheckFacts) -> tuple[str, str]:
    """The probable cause by the lines that are out; airflow through the obstacle says what the free airflow says.

    What the moving average or two of three checks see has lasted: a drift or a step, not one bad mounting.
    """
    lines = set(check.outside) or {line for line, said in check.signals.items() if said}
    out = frozenset({"free-airflow"} if lines == {"airflow"} else lines - {"airflow"})
    cause, test = CAUSES.get(out, OTHERWISE)
    if any({Signal.EWMA, Signal.TWO_OF_THREE} & set(said) for said in check.signals.values()):
        cause = f"a drift or a lasting step: {cause}"
    return cause + (f"; noted before: {check.event}" if check.event else ""), test


def signals(rig: WatchFacts) -> Iterator[Finding]:
    """Rule 3: checks outside 3 s block the day, unless a later check of that day lies inside; the rest marks."""
    days = {each.day: each.mountings for each in rig.days}
    for place, check in enumerate(rig.checks):
        lines = [line for line, said in check.signals.items() if said]
        if not lines:
            continue
        again = any(each.day == check.day and each.good for each in rig.checks[place + 1 :])
        blocks = bool(check.outside) and not again
        mountings = days.get(check.day, {})
        cause, test = _cause(check)
        found = "; ".join(
            f"{line} {check.said[line]}: {', '.join(each.value for each in check.signals[line])}"
            for line in lines
        )
        yield Finding(
            3, f"mounting:{check.mounting}", check.judged,
            Severity.BLOCKS if blocks else Severity.MARKS,
            f"{check.day} on {rig.words}, {rig.reference}: {found}"
            + ("; a later check of the day lies inside" if check.outside and again else ""),
            "inside 3 s of the checks before it, and the moving average inside its limits",
            cause, test, fans=_fans(mountings), mountings=tuple(sorted(mountings)) if blocks else (), what=found,
        )  # fmt: skip


# --- rules 4 and 45 ----------------------------------------------------------------------------------------


def unbridged_events(rig: WatchFacts) -> Iterator[Finding]:
    """Rule 4: an event that changes results without a bridge since; it blocks where it parts one fan's number."""
    earlier: dict[str, str] = {}
    for era in rig.eras:
        if era.began and not era.bridged:
            both = sorted(set(_fans(earlier)) & set(_fans(era.mountings)))
            parted = f"; {_listed(both)} lies on both sides of it" if both else ""
            since = "" if era.mountings else "; nothing was measured since"
            yield Finding(
                4, f"event:{rig.rig} {era.began}",
                key_of("event", rig.rig, era.began, era.why, both, bool(era.mountings)),
                Severity.BLOCKS if both else Severity.MARKS,
                f"{era.why!r} ({era.began[:10]}) on {rig.words} has no bridge{parted}{since}",
                "one sample measured before and after it, best the reference fan",
                "the rig may read otherwise since", era.advice, fans=tuple(both),
            )  # fmt: skip
        earlier |= era.mountings


def swaps(rig: WatchFacts) -> Iterator[Finding]:
    """Rule 4: an instrument of the rig that was changed in its record, without an event."""
    for date, what in rig.swaps:
        yield Finding(
            4, f"rig:{rig.rig}", key_of("swap", rig.rig, date, what), Severity.MARKS,
            f"instruments of {rig.words} changed in its record on {date} ({what}), and the log holds no event",
            "an event that changes results, if an instrument was swapped",
            "an instrument was swapped, or the record was put right",
            f"stillroom note --changes-results --rig {rig.rig} 'gauge swapped', if it was swapped",
        )  # fmt: skip


def far_bridges(rig: WatchFacts) -> Iterator[Finding]:
    """Rule 4: a bridge that is far from one, or whose samples disagree."""
    for each in rig.bridges:
        off = each.is_far
        if each.agree and not off:
            continue
        what = f"moved {each.measure} by {each.words}"
        yield Finding(
            4, f"event:{rig.rig} {each.eras[0]} to {each.eras[1]}, {each.measure}", each.key, Severity.MARKS,
            f"{each.event} on {rig.words} {what}" + ("" if each.agree else "; the samples of the bridge disagree"),
            f"a few {'tenths' if each.unit else 'per cent'}, the same for all samples",
            "a fault of the rig before or after, not only a change" if off else "one factor doesn't fit all fans",
            "leak test and zeros now; then one more sample before and after",
        )  # fmt: skip


def mixed_eras(rig: WatchFacts) -> Iterator[Finding]:
    """Rule 45: fans that lie only in an earlier era from which nothing leads to the latest: not in one ranking."""
    used = [each for each in rig.eras if each.mountings]
    if not used:
        return
    latest = used[-1]
    for era in used[:-1]:
        if any(each.bridged for each in rig.eras if era.number < each.number <= latest.number):
            continue
        fans = sorted(set(_fans(era.mountings)) - set(_fans(latest.mountings)))
        if fans:
            yield Finding(
                45, f"era:{rig.rig} {era.number}",
                key_of("eras", rig.rig, era.number, latest.number, fans, _fans(latest.mountings)),
                Severity.BLOCKS,
                f"{_listed(fans)} {'was' if len(fans) == 1 else 'were'} measured on {rig.words} before"
                f" {latest.why!r} ({latest.began[:10]}), {_listed(_fans(latest.mountings))} after it",
                "a bridge between the two eras; until then they stand in no common ranking",
                "the rig may read otherwise since", latest.advice, fans=tuple(fans),
            )  # fmt: skip
