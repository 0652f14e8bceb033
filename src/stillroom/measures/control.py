"""The measures of control behaviour: what is taken from a fan's response, its start attempts and its inrush.

A threshold lies between two tested settings: it is a range, and the number beside it is the end that was seen.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from stillroom.core.control.control_mounting import Behaviour, ControlMounting, Drive, How, Threshold
from stillroom.core.multiple import Merit
from stillroom.core.speeds import setting_words
from stillroom.errors import NotPossible
from stillroom.measures.found import Measure, Origin, no_curve

DUTY, VOLTS = "duty", "volts"
START_DUTY, STOP_DUTY, LOWEST_DUTY = "start-duty", "stop-duty", "lowest-duty"
START_VOLTAGE, STOP_VOLTAGE = "start-voltage", "stop-voltage"
LOWEST_SPEED, LINEARITY, OPEN_WIRE, INRUSH = "lowest-speed", "linearity", "open-wire-speed", "inrush"

KEEPS_MARK = "keeps a minimum speed"
FULL_MARK = "goes to full speed with no control signal"
"""The marks of what a fan does at the low end of its control."""

IN_RESPONSE = "it started in the rising response, where none was made"
"""How the mark of a start ends whose upper end is the response's, above attempts that failed."""

STOOD = "in the rising response it stood still"
"""How the mark of a start begins whose lower end is the response's, below attempts that all succeeded."""


@dataclass(frozen=True)
class ControlValue:
    """A measure in one mounting.

    Parameters
    ----------
    value : the end that was seen, or the value itself [SI]. low, high : between which it lies; equal to `value` where
    it is a value; low None: at most `high`; high None: at least `low`.
    u : standard uncertainty of its own [SI]. loadings : {shared source: change by one standard deviation}.
    marks : beside it. is_interpolated : whether it was reckoned between two steps.
    """

    value: float
    low: float | None
    high: float | None
    u: float = 0.0
    loadings: Mapping[str, float] = field(default_factory=dict)
    marks: tuple[str, ...] = ()
    is_interpolated: bool = False


def control_value(control: ControlMounting, measure: str) -> ControlValue:
    """A measure of one mounting.

    Raises
    ------
    NotPossible : it wasn't tested, or the fan does nothing of the kind; says which.
    """
    return _TAKEN[measure](control)


def _drive(control: ControlMounting, kind: str, thing: str) -> Drive:
    drive = control.drives.get(kind)
    if drive is None:
        name = "duty" if kind == DUTY else "supply voltage"
        raise NotPossible(
            thing,
            found=f"no test over the {name}",
            expected=f"a response, or start attempts, over the {name}",
        )
    return drive


def _start(kind: str) -> Callable[[ControlMounting], ControlValue]:
    def take(control: ControlMounting) -> ControlValue:
        thing = f"start {kind}"
        drive = _drive(control, kind, thing)
        if drive.start is None:
            raise NotPossible(
                thing,
                found=_never(drive) or "no start from rest was tried",
                expected="start attempts, or rising settings from where it stood",
            )
        return _between(drive.start, seen_high=True, marks=_attempt_marks(drive, drive.start))

    return take


def _never(drive: Drive) -> str:
    """Why a fan has no threshold: what it does at the low end of its control."""
    if drive.behaviour is Behaviour.KEEPS_MINIMUM:
        return "it keeps a minimum speed and never stood"
    if drive.behaviour is Behaviour.FULL_AT_ZERO:
        return f"it {FULL_MARK}"
    return ""


def _between(threshold: Threshold, *, seen_high: bool, marks: tuple[str, ...] = ()) -> ControlValue:
    low, high = threshold.low, threshold.high
    seen = high if (seen_high and high is not None) or low is None else low
    assert seen is not None  # a threshold has at least one end
    return ControlValue(seen, low, high, marks=marks)


def _attempt_marks(drive: Drive, start: Threshold) -> tuple[str, ...]:
    """What was tried, and where; the ends that the response alone tells are said to be of it."""
    if start.how is How.STEPS:
        return ("from the response, not from start attempts",)
    if start.how is How.BOTH:
        failed = [
            each for each in drive.starts if each.from_rest is not False and each.started < each.attempts
        ]
        tried, at = failed[-1], setting_words(drive.kind, failed[-1].setting)
        high = setting_words(drive.kind, start.high or 0.0)
        return (f"{tried.started} of {tried.attempts} attempts started at {at}, at {high} {IN_RESPONSE}",)
    at_high = [each for each in drive.starts if each.setting == start.high]
    marks = [
        f"{each.started} of {each.attempts} attempts: at least {100 * each.bound:.0f} % start"
        for each in at_high
    ]
    if start.how is How.ABOVE_STANDING:
        marks.append(f"{STOOD} at {setting_words(drive.kind, start.low or 0.0)}")
    return tuple(marks)


def _stop(kind: str) -> Callable[[ControlMounting], ControlValue]:
    def take(control: ControlMounting) -> ControlValue:
        thing = f"stop {kind}"
        drive = _drive(control, kind, thing)
        if drive.stop is None:
            raise NotPossible(
                thing,
                found="no falling settings from where it turned",
                expected="a response with falling settings",
            )
        if drive.stop.low is None and (why := _never(drive)):
            raise NotPossible(thing, found=why)
        marks = (FULL_MARK,) if drive.behaviour is Behaviour.FULL_AT_ZERO else ()
        return _between(drive.stop, seen_high=False, marks=marks)

    return take


def _lowest_duty(control: ControlMounting) -> ControlValue:
    drive = _drive(control, DUTY, "lowest running duty")
    setting = _lowest(drive)
    low = drive.stop.low if drive.stop else None
    if low is None and (setting == 0.0 or drive.behaviour is Behaviour.KEEPS_MINIMUM):
        return ControlValue(setting, setting, setting, marks=(KEEPS_MARK,))
    if low is not None and drive.behaviour is Behaviour.OFF_AT_ZERO:
        return ControlValue(setting, low, setting, marks=(f"{KEEPS_MARK}, off at 0 %",))
    return ControlValue(setting, low, setting)


def _lowest(drive: Drive) -> float:
    if drive.lowest_setting is None:
        raise NotPossible(
            "lowest running setting",
            found="no falling settings from where it turned",
            expected="a response with falling settings",
        )
    return drive.lowest_setting


def _lowest_speed(control: ControlMounting) -> ControlValue:
    """Of the duty where it was tested, else of the voltage."""
    kind = DUTY if DUTY in control.drives and control.drives[DUTY].lowest is not None else VOLTS
    drive = _drive(control, kind, "lowest speed")
    _lowest(drive)
    speed, u, loadings = drive.lowest or 0.0, drive.u_lowest or 0.0, drive.lowest_shared
    keeps = drive.behaviour in (Behaviour.KEEPS_MINIMUM, Behaviour.OFF_AT_ZERO)
    if keeps:
        return ControlValue(speed, speed, speed, u, loadings, (KEEPS_MARK,))
    if drive.behaviour is Behaviour.FULL_AT_ZERO:
        return ControlValue(speed, None, speed, u, loadings, (FULL_MARK,))
    return ControlValue(speed, drive.slowest, speed, u, loadings, is_interpolated=drive.slowest is not None)


def _linearity(control: ControlMounting) -> ControlValue:
    drive = _drive(control, DUTY, "linearity")
    found = drive.linearity
    if found is None:
        raise NotPossible("linearity", found="too few duties from 30 % up, or full duty not taken",
                          expected="a response with at least two duties from 30 % up, and 100 %")  # fmt: skip
    way = "above" if found.departure > 0.0 else "below"
    mark = f"{way} the line at {100 * found.setting:.0f} % duty"
    return ControlValue(
        abs(found.departure), abs(found.departure), abs(found.departure), found.u, marks=(mark,)
    )


def _open_wire(control: ControlMounting) -> ControlValue:
    found = control.open_wire
    if found is None:
        raise NotPossible(
            "open-wire speed",
            found="no step with the control wire open",
            expected="one, and one at full duty",
        )
    return ControlValue(found.share, found.share, found.share, found.u_share)


def _inrush(control: ControlMounting) -> ControlValue:
    found = control.inrush
    if found is None:
        raise NotPossible(
            "inrush", found="no record of a start's current", expected="one, or peaks that were read off"
        )
    marks = () if found.length is None else (f"for {1000 * found.length:.0f} ms",)
    return ControlValue(found.peak, found.peak, None if found.is_bound else found.peak, found.u, marks=marks)


_TAKEN: Mapping[str, Callable[[ControlMounting], ControlValue]] = {
    START_DUTY: _start(DUTY),
    STOP_DUTY: _stop(DUTY),
    LOWEST_DUTY: _lowest_duty,
    START_VOLTAGE: _start(VOLTS),
    STOP_VOLTAGE: _stop(VOLTS),
    LOWEST_SPEED: _lowest_speed,
    LINEARITY: _linearity,
    OPEN_WIRE: _open_wire,
    INRUSH: _inrush,
}


def _measure(
    name: str, title: str, definition: str, quantity: str, claim: str, merit: Merit = Merit.LESS
) -> Measure:
    return Measure(name, title, definition, 1, quantity, merit, False, no_curve, claim, origin=Origin.CONTROL)


MEASURES: tuple[Measure, ...] = (
    _measure(
        START_DUTY,
        "Start duty",
        "PWM duty at which it starts from rest: between the highest tested one at which an attempt failed and the"
        " lowest at which all succeeded; from the rising response where no attempts were made.",
        "duty",
        "starts at the lowest duty",
    ),
    _measure(
        STOP_DUTY,
        "Stop duty",
        "PWM duty at which it stops as the duty falls: between the lowest tested one that still turned and the highest"
        " at which it stood.",
        "duty",
        "stops at the lowest duty",
    ),
    _measure(
        LOWEST_DUTY,
        "Lowest running duty",
        "The last tested PWM duty at which it still turned as the duty fell.",
        "duty",
        "runs at the lowest duty",
    ),
    _measure(
        START_VOLTAGE,
        "Start voltage",
        "Supply voltage at which it starts from rest: between the highest tested one at which an attempt failed and the"
        " lowest at which all succeeded; from the rising response where no attempts were made.",
        "voltage",
        "starts at the lowest voltage",
    ),
    _measure(
        STOP_VOLTAGE,
        "Stop voltage",
        "Supply voltage at which it stops as the voltage falls: between the lowest tested one that still turned and the"
        " highest at which it stood.",
        "voltage",
        "stops at the lowest voltage",
    ),
    _measure(
        LOWEST_SPEED,
        "Lowest speed",
        "Speed in free air at the last tested setting at which it still turned as the setting fell; the true lowest"
        " speed may lie down to what the slope there gives at the setting at which it stood.",
        "speed",
        "turns slowest",
    ),
    _measure(
        LINEARITY,
        "Departure from the line",
        "Greatest departure of speed over full speed from the PWM duty, by amount, over both ways and all tested duties"
        " from 30 % up (4-Wire PWM Controlled Fans Specification, 3.3: within ± 10 %).",
        "departure",
        "follows the duty most closely",
    ),
    _measure(
        OPEN_WIRE,
        "Open-wire speed",
        "Speed with the control wire open over speed at full duty (4-Wire PWM Controlled Fans Specification, 3.3:"
        " maximum speed).",
        "relative_speed",
        "turns fastest with an open control wire",
        Merit.MORE,
    ),
    _measure(
        INRUSH,
        "Inrush current",
        "Greatest current at a start at the full setting, of a record, else of peaks that were read off.",
        "current",
        "draws the least current at the start",
    ),
)  # fmt: skip
