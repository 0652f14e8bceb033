"""Speed against duty or voltage both ways for the charts room, with start, stop and the specification's line."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from stillroom import wording
from stillroom.charts.response import (
    DriveMark,
    DriveSign,
    ResponseChart,
    ResponseLine,
    SpecificationBand,
)
from stillroom.core.control.control_mounting import ControlMounting, Drive, How, Response, Threshold
from stillroom.core.control.linearity import FULL_DUTY
from stillroom.core.speeds import WORDS
from stillroom.core.standards.pwm_fans_4_wire import MINIMUM_SPEED, SPEED_MATCH, expected_speed
from stillroom.errors import NotPossible, StillroomError, UnknownThing
from stillroom.lab.book import Book
from stillroom.lab.control.loading import load_control
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.pictures.heat.alt_texts import response_alt
from stillroom.lab.pictures.picture_words import footer, plain_name
from stillroom.lab.recipes import Graph
from stillroom.store import results
from stillroom.store.lab import Lab

RPM = 60.0
LABELS = {"duty": "Duty", "volts": "Supply voltage"}
UNITS = {"duty": "%", "volts": "V"}
PLACES = 15


def response_chart(lab: Lab, book: Book, graph: Graph, fan: str, *, volts: bool) -> tuple[ResponseChart, str]:
    """A fan's latest test of its control, and the name of its files.

    Parameters
    ----------
    fan : whose; that of the latest test where none is named. volts : against the supply voltage, not the duty.

    Raises
    ------
    NotPossible : no test, or none of this drive. UnknownThing : no such fan.
    """
    node, control, kind = _latest(lab, graph, fan, volts=volts)
    drive = control.drives[kind]
    lines = tuple(_lines(drive, kind))
    if not lines:
        raise NotPossible(
            f"response of {node.fan}", found="start attempts alone", expected="speed at several settings"
        )
    marks = tuple(_marks(drive, kind))
    wire = control.open_wire if kind == "duty" else None
    open_wire = None if wire is None else (wire.speed * RPM, f"wire open: {_rpm(wire.speed)}")
    tested = f"{node.date}, {wording.plural(len(node.runs), 'run')}"
    picture = ResponseChart(
        title=_title(node.fan, drive, kind),
        subtitle=f"Speed against {_over(kind)}, rising and falling; {node.fan}/{node.sample}, {tested}",
        footer=footer(book.settings, node.method, "one mounting"),
        x_label=LABELS[kind],
        x_unit=UNITS[kind],
        y_label="Speed",
        y_unit="rpm",
        label=node.fan,
        lines=lines,
        specification=_specification(drive) if kind == "duty" else None,
        marks=marks,
        open_wire=open_wire,
        notes=tuple(_notes(control, drive, kind)),
        alt=response_alt(
            f"{_over(kind)} of {wording.isolate(node.fan)}",
            f"up to {_rpm(max(max(each.speed) for each in lines) / RPM)}",
            [*(each.words for each in marks), *([open_wire[1]] if open_wire else [])],
        ),
    )
    return picture, plain_name("response", node.subject, kind)


def _latest(lab: Lab, graph: Graph, fan: str, *, volts: bool) -> tuple[ControlNode, ControlMounting, str]:
    """The latest test that has the drive asked for; where nobody asks for volts, the voltage if there is no duty."""
    every = sorted(graph.controlled(), key=lambda each: (each.date, each.subject))
    if not every:
        raise NotPossible(
            "response", found="no test of speed control", expected="a table of speed against duty or volts"
        )
    if fan and fan not in {each.fan for each in every}:
        known = wording.listed(sorted({each.fan for each in every}), last="or")
        raise UnknownThing(f"control of {fan}", found="no test", expected=known)
    whys: list[str] = []
    kinds = ("volts",) if volts else ("duty", "volts")
    tests: list[tuple[ControlNode, ControlMounting]] = []
    for node in reversed([each for each in every if fan in ("", each.fan)]):
        result = results.get(lab.database, node.key)
        if result is None:
            whys.append(f"{node.subject}: not reduced yet")
            continue
        try:
            tests.append((node, load_control(lab.path, result)))
        except StillroomError as error:
            whys.append(f"{node.subject}: {error.found or error.sentence()}")
    for kind in kinds:
        for node, control in tests:
            if kind in control.drives and (control.drives[kind].up or control.drives[kind].down):
                return node, control, kind
    found = "; ".join(whys) or f"no response over the {_over(kinds[0])}"
    raise NotPossible(f"response of {fan or 'any fan'}", found=found, expected="speed at several settings")


# --- series -----------------------------------------------------------------------------------------------


def _lines(drive: Drive, kind: str) -> Iterable[ResponseLine]:
    for response, label, is_back in ((drive.up, "rising", False), (drive.down, "falling", True)):
        if response is not None and len(response.settings) > 1:
            yield ResponseLine(label, _shown(response.settings, kind), _speeds(response), is_back)


def _shown(settings: Iterable[float], kind: str) -> tuple[float, ...]:
    return tuple(round(float(each) * WORDS[kind][0], 4) for each in settings)


def _speeds(response: Response) -> tuple[float, ...]:
    return tuple(round(float(each) * RPM, 2) for each in response.speeds)


def _specification(drive: Drive) -> SpecificationBand | None:
    """The line of the 4-wire specification with its tolerance, from the duty of the greatest minimum speed on up."""
    if not drive.full or (drive.full_setting or 0.0) < FULL_DUTY:
        return None
    duty = np.linspace(MINIMUM_SPEED.high, 1.0, PLACES)
    speed = expected_speed(duty, drive.full)
    ends = [speed + each * drive.full for each in (SPEED_MATCH.low, SPEED_MATCH.high)]
    shown = [tuple(round(float(each) * RPM, 2) for each in row) for row in (speed, *ends)]
    tolerance = wording.with_unit(f"± {SPEED_MATCH.high * 100:g}", "%")
    return SpecificationBand(f"4-wire specification, {tolerance}", _shown(duty, "duty"), *shown)


def _marks(drive: Drive, kind: str) -> Iterable[DriveMark]:
    if drive.lowest_setting is not None and drive.lowest is not None:
        said = f"lowest {_rpm(drive.lowest)} at {_one(drive.lowest_setting, kind)}"
        yield DriveMark(drive.lowest_setting * WORDS[kind][0], drive.lowest * RPM, said, DriveSign.LOWEST)
    for threshold, verb, sign in (
        (drive.start, "starts", DriveSign.START),
        (drive.stop, "stops", DriveSign.STOP),
    ):
        if threshold is not None and not (
            sign is DriveSign.STOP and threshold.low is None
        ):  # never seen to stand
            yield _mark(threshold, verb, sign, kind)


def _mark(threshold: Threshold, verb: str, sign: DriveSign, kind: str) -> DriveMark:
    """Where a fan starts or stops: between two settings that were tried, or beyond the one that was."""
    ends = [each for each in (threshold.low, threshold.high) if each is not None]
    at = ends[-1] if sign is DriveSign.START else ends[0]
    both = threshold.low is not None and threshold.high is not None
    factor = WORDS[kind][0]
    return DriveMark(
        at * factor,
        0.0,
        f"{verb} {between(threshold, kind)}",
        sign,
        ends[0] * factor if both else None,
        ends[-1] * factor if both else None,
    )


def between(threshold: Threshold, kind: str) -> str:
    """A threshold in words: "at 20–22 %", "at 22 % or less", "above 5 %"."""
    low, high = threshold.low, threshold.high
    if low is None or high is None:
        return f"at {_one(high, kind)} or less" if high is not None else f"above {_one(low or 0.0, kind)}"
    if math.isclose(low, high):
        return f"at {_one(low, kind)}"
    return f"at {low * WORDS[kind][0]:.4g}–{_one(high, kind)}"


# --- words ------------------------------------------------------------------------------------------------


def _one(setting: float, kind: str) -> str:
    return wording.with_unit(f"{setting * WORDS[kind][0]:.4g}", UNITS[kind])


def _rpm(speed: float) -> str:
    return wording.with_unit(wording.number(speed * RPM), "rpm")


def _over(kind: str) -> str:
    return {"duty": "duty", "volts": "supply voltage"}[kind]


def _title(fan: str, drive: Drive, kind: str) -> str:
    """The finding: where it starts, and how far down it runs; else what it does at the low end."""
    who, parts = wording.isolate(fan), []
    if drive.start is not None and drive.start.high is not None:
        parts.append(f"starts {between(drive.start, kind)}")
    if drive.lowest is not None and drive.lowest_setting is not None:
        parts.append(f"runs down to {_rpm(drive.lowest)} at {_one(drive.lowest_setting, kind)}")
    if not parts and drive.behaviour is not None:
        parts.append(drive.behaviour.value)
    return f"{who} {wording.listed(parts)}" if parts else f"{who}: speed against {_over(kind)}"


def _untried(drive: Drive, kind: str) -> str:
    """That no attempts were made where it starts, in a sentence; none where they were."""
    if drive.start is None or drive.start.how is not How.BOTH or drive.start.high is None:
        return ""
    return f" At {_one(drive.start.high, kind)} none was made: there it started as the setting rose."


def _notes(control: ControlMounting, drive: Drive, kind: str) -> Iterable[str]:
    if drive.behaviour is not None:
        yield wording.sentence(f"at the low end it {drive.behaviour.value}")
    if drive.starts:
        least = max((each for each in drive.starts if each.started == each.attempts), default=None,
                    key=lambda each: (each.attempts, -each.setting))  # fmt: skip
        shown = least or drive.starts[-1]
        share = wording.with_unit(wording.number(math.floor(shown.bound * 100.0)), "%")
        yield (
            f"It started {shown.started} of {shown.attempts} times at {_one(shown.setting, kind)}: with 95 % "
            f"confidence in {share} of all attempts or more.{_untried(drive, kind)}"
        )
    if drive.linearity is not None:
        told = drive.linearity
        share = wording.with_unit(wording.number(told.departure * 100.0, 1), "%")
        verdict = "within" if SPEED_MATCH.holds(told.departure) else "outside"
        tolerance = wording.with_unit(f"{SPEED_MATCH.high * 100:g}", "%")
        at = _one(told.setting, kind)
        yield f"Farthest from the specification’s line: {share} of full speed at {at}, {verdict} ± {tolerance}."
    if control.marks:
        yield wording.sentence("; ".join(control.marks))
