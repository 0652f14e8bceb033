"""From what is seen of a rig to its one word and its one reason: the first that applies."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from stillroom.core.heat.heat_mounting import HeatStep, StepHow
from stillroom.core.heat.settling_fit import LEAST_SPAN
from stillroom.live.keeping import half_width
from stillroom.live.saying import kelvin, minutes, setting_in_words, step_in_words
from stillroom.live.states import Expected, RigState, State
from stillroom.methods.heat.told import StepTold
from stillroom.quality.finding import Finding
from stillroom.quality.heat.replicates import repeated_steps
from stillroom.quality.rules import Severity

STOPPED = 120.0
"""A rig of which no file grew for so long has stopped [s]."""

_SHORT = re.compile(r"[0-9.]+ (?:readings|means;|time constants of about)")
"""Why there is no forecast of a step that has only begun."""

NOT_STEADY, FOUND = "not steady: ", ": found "
"""How a step's mark begins that tells why it has no value, and what stands before the reason in it."""

LAGS = 45.0
"""A file that ends so much before the others lags behind [s]."""


@dataclass(frozen=True)
class FileSeen:
    """One file of a run: how far its last reading lies behind the newest one [s], for how long it hasn't grown [s],
    whether its last line is whole, what is wrong with it, or "", and whether it can't be opened just now.
    """

    name: str
    behind: float
    still: float
    is_whole: bool
    why: str = ""
    is_held: bool = False


@dataclass(frozen=True)
class StepSeen:
    """One step of a run.

    Parameters
    ----------
    step : reduced as far as it is there. told : number of the planned step that it is, or None.
    was_steady : whether it was steady and nothing has spoken against that since. was_accepted : its forecast likewise.
    """

    step: HeatStep
    told: int | None
    was_steady: bool = False
    was_accepted: bool = False


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What is seen of one rig.

    Parameters
    ----------
    steps : in order of time. grows : whether the last of them is still being held.
    begun : for how long a new setting has been held that is no step yet [s], None where there is none such.
    planned : settings that are to be run, in order. repeat : whether the first setting is to be run again at the end.
    accept : a forecast whose 95 % interval reaches no further than this passes [K]; None where none does.
    repeat_within : [K]. intake : see `RigState`.
    findings : of the rules. files : of the run. why : what keeps it from being reduced, or "".
    """

    rig: str
    fan: str = ""
    sample: str = ""
    moment: str = ""
    steps: tuple[StepSeen, ...] = ()
    grows: bool = False
    begun: float | None = None
    planned: tuple[StepTold, ...] = ()
    repeat: bool = False
    accept: float | None = None
    tolerance: float = 0.05
    repeat_within: float = 0.15
    value: float | None = None
    findings: tuple[Finding, ...] = ()
    files: tuple[FileSeen, ...] = ()
    intake: tuple[tuple[str, ...], ...] = ()
    why: str = ""

    @property
    def newest(self) -> HeatStep | None:
        """The step that is being held, or was the last."""
        return self.steps[-1].step if self.steps else None

    def passes(self, seen: StepSeen) -> bool:
        """Whether a step needs no longer be held."""
        return seen.step.how is StepHow.STEADY or seen.was_steady or self.accepts(seen)

    def accepts(self, seen: StepSeen) -> bool:
        """Whether the forecast of a step is accepted."""
        step, told = seen.step, seen.step.forecast
        if step.how is not StepHow.FORECAST or self.accept is None or told is None:
            return False
        return seen.was_accepted or half_width(told) <= self.accept

    @property
    def passed(self) -> tuple[HeatStep, ...]:
        """The steps that passed."""
        return tuple(each.step for each in self.steps if self.passes(each))

    @property
    def cut(self) -> tuple[HeatStep, ...]:
        """Steps that ended before they passed, and whose setting was not run again."""
        over = self.steps[:-1] if self.grows and self.begun is None else self.steps
        return tuple(
            each.step
            for at, each in enumerate(over)
            if not self.passes(each) and not again(each, self.steps[at + 1 :])
        )

    @property
    def missing(self) -> tuple[StepTold, ...]:
        """The planned settings that have not passed yet."""
        done = [each.told for each in self.steps if self.passes(each)]
        left = list(self.planned)
        for number in done:
            at = next((i for i, each in enumerate(left) if each.number == number), None)
            if at is not None:
                del left[at]
        return tuple(left)

    @property
    def pairs(self) -> list[tuple[HeatStep, HeatStep]]:
        """The first and the last step of each setting that was run twice and passed."""
        return repeated_steps([each for each in self.passed if each.is_result])

    @property
    def needs_repeat(self) -> bool:
        """Whether the first setting is still to be run once more."""
        return self.repeat and len(self.passed) > 1 and not self.pairs

    @property
    def of(self) -> int:
        """How many steps there are to be."""
        settings = [(each.kind, each.setting) for each in self.planned]
        settings = settings or [(each.step.setting_kind, each.step.setting) for each in self.steps]
        distinct = set(settings)
        wanted = len(settings) if self.planned and len(distinct) < len(settings) else len(distinct)
        return max(
            wanted + (self.repeat and wanted == len(distinct) > 1), len(self.steps) + (self.begun is not None)
        )


def again(step: StepSeen, later: Sequence[StepSeen]) -> bool:
    """Whether a step's setting was run once more later."""
    return any(_same(step, each) for each in later)


def _same(one: StepSeen, other: StepSeen) -> bool:
    """Whether two steps are of one setting."""
    if one.told is not None and one.told == other.told:
        return True
    first, second = one.step, other.step
    if first.setting is None or second.setting is None or first.setting_kind != second.setting_kind:
        return False
    return abs(first.setting - second.setting) <= 0.02 * abs(first.setting)


Word = tuple[State, str]


def decide(seen: Seen) -> RigState:
    """The state of a rig."""
    state, reason = next(word for rule in RULES for word in rule(seen))
    step, told = seen.newest, (seen.newest.forecast if seen.newest else None)
    fresh = seen.begun is not None
    expected = None if told is None or fresh else Expected(told["final"], told["low"], told["high"])
    wait = 0.0 if state is State.READY else None
    if told is not None and not fresh and state is not State.READY:
        wait = 0.0 if seen.passes(seen.steps[-1]) else float(told["wait"])
    return RigState(
        rig=seen.rig,
        state=state,
        reason=reason,
        fan=seen.fan,
        sample=seen.sample,
        setting="" if step is None or fresh else setting_in_words(step.setting_kind, step.setting),
        step=len(seen.steps) + fresh,
        of=seen.of,
        moment=seen.moment,
        value=seen.value,
        forecast=expected,
        wait=wait,
        findings=tuple(
            {
                "rule": str(each.rule),
                "severity": each.severity.name.lower(),
                "found": each.found,
                "expected": each.expected,
                "cause": each.cause,
                "test": each.test,
            }
            for each in seen.findings
        ),
        intake=seen.intake,
    )


def _unreadable(seen: Seen) -> Iterator[Word]:
    for each in seen.files:
        if each.why:
            yield State.CHECK, f"{each.name} can't be read: {each.why}"


def _held_long(seen: Seen) -> Iterator[Word]:
    for each in seen.files:
        if each.is_held and each.still > STOPPED:
            yield (
                State.CHECK,
                f"{each.name} can't be opened since {minutes(each.still)}; probable cause: another program keeps it "
                "for itself; test: close the spreadsheet or viewer that shows it",
            )


def _nothing_yet(seen: Seen) -> Iterator[Word]:
    if not seen.files:
        yield State.SETTLING, "no logger file yet"
    elif not seen.steps and seen.begun is None and seen.why and not _has_stopped(seen):
        yield State.SETTLING, seen.why


def _against_the_rules(seen: Seen) -> Iterator[Word]:
    blocking = [each for each in seen.findings if each.severity is Severity.BLOCKS]
    more = f" (and {len(blocking) - 1} more)" if len(blocking) > 1 else ""
    for each in blocking:
        cause = f"; probable cause: {each.cause}" if each.cause else ""
        test = f"; test: {each.test}" if each.test else ""
        yield State.CHECK, f"{each.found}{more}; expected {each.expected}{cause}{test}"


def _cut_short(seen: Seen) -> Iterator[Word]:
    for each in seen.cut if seen.grows or _has_stopped(seen) else ():
        what = "a forecast only" if each.how is StepHow.FORECAST else "not steady"
        yield (
            State.CHECK,
            f"{step_in_words(each)} ended {what}: run it again, or accept its forecast with --accept",
        )


def _not_repeated_within(seen: Seen) -> Iterator[Word]:
    for first, last in seen.pairs:
        moved = last.delta_nominal - first.delta_nominal
        limit = max(seen.repeat_within, 2.0 * (first.u_own**2 + last.u_own**2) ** 0.5)
        if abs(moved) > limit:
            yield (
                State.CHECK,
                f"the repeat of {step_in_words(first)} reads {moved:+.2f} K; expected within {limit:.2f} K; probable "
                "cause: a probe, the fan's seal or the coolant moved; test: press the hot probe, look at the reservoir",
            )


def _has_stopped(seen: Seen) -> bool:
    return bool(seen.files) and min(each.still for each in seen.files) > STOPPED


def _is_done(seen: Seen) -> bool:
    """Whether all that was to be run has passed."""
    if not seen.steps or seen.begun is not None or seen.missing or seen.needs_repeat or seen.cut:
        return False
    return seen.passes(seen.steps[-1])


def _done(seen: Seen) -> Iterator[Word]:
    if not _is_done(seen):
        return
    for each in seen.files:
        stopped = each.still > STOPPED and each.behind > LAGS
        if stopped:
            yield (
                State.CHECK,
                f"{each.name} stopped {minutes(each.behind)} before the others; probable cause: its logger "
                "stands; test: look at its display",
            )
        elif each.behind > LAGS:
            yield State.STEADY, f"all settings passed, but {each.name} lags {each.behind:.0f} s behind"
        elif each.is_held:
            yield State.STEADY, f"all settings passed, but {each.name} can't be opened just now"
        elif not each.is_whole:
            yield State.STEADY, f"all settings passed, but the last line of {each.name} is not whole"
    count = len(seen.passed)
    again = "; the repeat agrees" if seen.pairs else ""
    planned = "" if seen.planned else " (nothing was planned)"
    yield State.READY, f"{count} of {count} settings passed{planned}{again}; the files are complete"


def _stopped(seen: Seen) -> Iterator[Word]:
    if _has_stopped(seen):
        still = min(each.still for each in seen.files)
        yield (
            State.CHECK,
            f"no new reading for {minutes(still)}; probable cause: the logger or its computer stands; "
            "test: look at the logger's clock",
        )


def _held(seen: Seen) -> Iterator[Word]:
    step = seen.newest
    if seen.begun is not None:
        yield State.SETTLING, f"a new setting since {seen.begun:.0f} s"
    elif step is not None and seen.passes(seen.steps[-1]):
        yield State.STEADY, f"{_accepted(seen)}{_what_next(seen, step)}"
    elif step is not None:
        yield State.SETTLING, _how_far(seen, step)
    yield State.SETTLING, seen.why or "no reading yet"


def _accepted(seen: Seen) -> str:
    """That a step which still moves has passed by its forecast, in words; else nothing."""
    newest = seen.steps[-1]
    told = newest.step.forecast
    if newest.was_steady or told is None or not seen.accepts(newest):
        return ""
    return "its forecast is accepted; "


def _what_next(seen: Seen, step: HeatStep) -> str:
    missing = seen.missing
    if missing:
        return f"set {setting_in_words(missing[0].kind, missing[0].setting)} next"
    if seen.needs_repeat:
        first = seen.passed[0]
        return f"set {setting_in_words(first.setting_kind, first.setting) or 'the first setting'} once more"
    return f"{step_in_words(step)} has passed"


def _how_far(seen: Seen, step: HeatStep) -> str:
    told = step.forecast
    if told is not None:
        left = told["final"] - (seen.value if seen.value is not None else step.delta)
        if told["wait"] > 0.0:
            return f"{kelvin(left)} to go, about {minutes(told['wait'])}"
        return f"within {seen.tolerance:g} K of its end; drift not proven small yet"
    if step.span is not None and step.span < LEAST_SPAN:
        return f"too early for a forecast: {step.span:.1f} of {LEAST_SPAN:g} time constants"
    why = next((each for each in step.marks if each.startswith(NOT_STEADY)), "").rpartition(FOUND)[2]
    return f"no forecast yet: {why}" if why and not _SHORT.match(why) else "too early for a forecast"


RULES: Sequence[Callable[[Seen], Iterator[Word]]] = (
    _unreadable,
    _held_long,
    _nothing_yet,
    _against_the_rules,
    _not_repeated_within,
    _cut_short,
    _done,
    _stopped,
    _held,
)
"""What is asked of a rig, in this order; the last one always answers."""
