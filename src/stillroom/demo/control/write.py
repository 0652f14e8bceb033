"""Writes what the bench for control hands over: responses, start attempts, records of a start's current; its truth."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from stillroom.demo.calendar import Calendar
from stillroom.demo.catalogue import INITIALS
from stillroom.demo.control.answering import SPIN_UP, Answer, answer_of
from stillroom.demo.control.plan import DUTIES, GENERATOR, RIG, VOLTAGES, ControlRun
from stillroom.demo.control.truth import ControlTruth
from stillroom.demo.draws import Draws
from stillroom.demo.fan import SUPPLY, Control, Fan
from stillroom.demo.tables import write_table
from stillroom.demo.truth import Fault

FOLDER = "exports/control"
RUNS, MOUNTINGS = "control-runs.csv", "control-mountings.csv"
DWELL, EVERY = 30.0, 5.0
"""How long a step is held, and the time between two readings [s]."""
SPEED_SD, CURRENT_SD = 8e-4, 6e-3
"""Relative standard deviations of a reading."""
RECORD, STEP = 1.2, 0.002
"""Length of a record of a start's current, and the time between two of its readings [s]."""
LINEAR_FROM = 30.0
"""The specification's line is held from this duty up [%]."""
_RESTED = 20
"""How long a fan stood before each attempt to start it [s]."""


@dataclass(frozen=True)
class Line:
    """One line of the table of files; `setting` is that of a start's record."""

    file: str
    run: ControlRun
    setting: float | None = None


def write_control(
    folder: Path,
    seed: int,
    samples: Mapping[tuple[str, str], Fan],
    calendar: Calendar,
    runs: Sequence[ControlRun],
    calibrated: tuple[int, int],
) -> tuple[tuple[ControlTruth, ...], tuple[Fault, ...]]:
    """Write files and tables of the bench for control.

    Parameters
    ----------
    samples : by (fan, sample). calibrated : days from the calibrations to the round, and from one to the next.
    """
    lines: list[Line] = []
    truths = []
    for run in runs:
        answer = answer_of(seed, samples[run.fan, run.sample])
        place = f"{FOLDER}/{calendar.day(run.day)} {run.fan} {run.sample} c{run.number}"
        start = datetime.fromisoformat(calendar.day(run.day)) + timedelta(hours=run.hour)
        own = [Line(f"{place} response.csv", run)]
        _write_response(folder / own[0].file, seed, run, answer, start)
        if run.attempts:
            own.append(Line(f"{place} starts.csv", run))
            _write_starts(folder / own[-1].file, seed, run, answer)
        if run.inrush:
            own.append(Line(f"{place} inrush.csv", run, answer.full))
            _write_inrush(folder / own[-1].file, seed, run, answer)
        lines += own
        truths.append(_truth(run, answer, tuple(each.file for each in own)))
    _write_runs(folder, lines, samples)
    rows = [
        [e.name, e.fan, e.sample, RIG, calendar.day(e.day), INITIALS[e.number % len(INITIALS)]] for e in runs
    ]
    write_table(folder / MOUNTINGS, ["mounting", "fan", "sample", "rig", "date", "by"], rows)
    (folder / "control.toml").write_text(
        "\n".join(_rig(calendar, *calibrated)), encoding="utf-8", newline="\n"
    )
    return tuple(truths), tuple(_faults(runs, truths))


def _write_response(path: Path, seed: int, run: ControlRun, answer: Answer, start: datetime) -> None:
    """A log of the staircase up and down, with the control wire open at its end."""
    draws = Draws(seed, f"response {run.name}")
    by_volts = answer.fan.control is Control.VOLTS
    steps = VOLTAGES if by_volts else DUTIES
    path_of = [(each, False) for each in steps] + [(each, True) for each in steps[-2::-1]]
    rows: list[list[str]] = []
    speed = 0.0
    for setting, falling in path_of:
        wanted = answer.speed(setting, turning=speed > 0, falling=falling, frequency=run.frequency)
        rows += _dwell(
            draws, start, len(rows), f"{setting:g}", speed, wanted, answer, setting if by_volts else SUPPLY
        )
        speed = wanted
    if run.open_wire and not by_volts:
        rows += _dwell(draws, start, len(rows), "open", speed, answer.fan.full_speed, answer, SUPPLY)
    name = "supply" if by_volts else "duty"
    head = ["time", f"{name} [{'V' if by_volts else '%'}]", "speed [rpm]", "current [A]"]
    path.parent.mkdir(parents=True, exist_ok=True)
    write_table(path, head, rows)


def _dwell(
    draws: Draws, start: datetime, done: int, setting: str, before: float, wanted: float, answer: Answer, volts: float
) -> Iterator[list[str]]:  # fmt: skip
    """The readings of one step."""
    for i in range(1, int(DWELL / EVERY) + 1):
        speed = wanted + (before - wanted) * math.exp(-i * EVERY / SPIN_UP)
        shown = 0.0 if speed < 0.5 else speed * draws.near_one(SPEED_SD)
        current = answer.steady_current(speed, volts) * draws.near_one(CURRENT_SD)
        now = start + timedelta(seconds=(done + i) * EVERY)
        yield [f"{now:%Y-%m-%dT%H:%M:%S}", setting, f"{shown * 60:.0f}", f"{current:.4f}"]


def _tried_at(answer: Answer) -> float:
    """The setting at which starts are tried: a step above the one that starts the fan."""
    if answer.fan.control is Control.VOLTS:
        return math.ceil(answer.start * 2) / 2
    return float(math.ceil(answer.start + 1)) if answer.stops else 20.0


def _write_starts(path: Path, seed: int, run: ControlRun, answer: Answer) -> None:
    setting = _tried_at(answer)
    unit = "V" if answer.fan.control is Control.VOLTS else "%"
    name = "voltage" if unit == "V" else "duty"
    rows = []
    for number in range(1, run.attempts + 1):
        ok = number not in run.failed
        speed = answer.speed(setting, turning=ok, falling=False, frequency=run.frequency) if ok else 0.0
        shown = speed * Draws(seed, f"start {run.name} {number}").near_one(SPEED_SD) * 60
        rows.append([str(number), f"{setting:g}", str(_RESTED), "yes", "yes" if ok else "no", f"{shown:.0f}"])
    head = ["no", f"{name} [{unit}]", "rest time [s]", "cold", "started", "speed reached [rpm]"]
    write_table(path, head, rows)


def _write_inrush(path: Path, seed: int, run: ControlRun, answer: Answer) -> None:
    draws = Draws(seed, f"inrush {run.name}")
    rows = []
    for i in range(int(RECORD / STEP)):
        time = i * STEP
        current = answer.start_current(time - 0.1) + draws.normal(0.002)
        rows.append([f"{time:.3f}", f"{current:.4f}"])
    write_table(path, ["time [s]", "current [A]"], rows)


def _write_runs(folder: Path, lines: Sequence[Line], samples: Mapping[tuple[str, str], Fan]) -> None:
    rows = []
    for each in lines:
        run = each.run
        by_volts = samples[run.fan, run.sample].control is Control.VOLTS
        at = "" if each.setting is None else f"{each.setting:g}"
        frequency = "" if by_volts else f"{run.frequency / 1000:g}"
        rows.append([each.file, RIG, run.name, run.fan, run.sample, "" if by_volts else at, at if by_volts else "",
                     frequency])  # fmt: skip
    head = ["file", "rig", "mounting", "fan", "sample", "duty [%]", "volts [V]", "PWM frequency [kHz]"]
    write_table(folder / RUNS, head, rows)


def _rig(calendar: Calendar, done: int, due: int) -> Iterator[str]:
    yield f"[rig.{RIG}]"
    yield 'kind = "control"'
    yield ""
    yield f"[rig.{RIG}.roles]"
    yield 'speed = "tachometer-control"'
    yield 'current = "shunt-control"'
    yield ""
    for number, (name, quantity, accuracy) in enumerate(
        (
            ("tachometer-control", "speed", "± 0.05 % of reading"),
            ("shunt-control", "current", "± 1 % of reading"),
        )
    ):
        yield f"[instrument.{name}]"
        yield f'quantity = "{quantity}"'
        yield f'accuracy = "{accuracy}"'
        yield ""
        yield f"[instrument.{name}.calibration]"
        yield f'date = "{calendar.before(done)}"'
        yield f'due = "{calendar.before(done - due)}"'
        yield f'certificate = "R-{calendar.first.year - 1}-{71 + number}"'
        yield ""


def _truth(run: ControlRun, answer: Answer, files: tuple[str, ...]) -> ControlTruth:
    by_volts = answer.fan.control is Control.VOLTS
    full = answer.fan.full_speed
    lowest = answer.speed(
        answer.stop if answer.stops else 0.0, turning=True, falling=False, frequency=GENERATOR
    )
    shares = [
        (each, answer.speed(each, turning=True, falling=False, frequency=GENERATOR) / full) for each in DUTIES
    ]
    away = [share - each / 100 for each, share in shares if each >= LINEAR_FROM]
    return ControlTruth(
        run.name, run.fan, run.sample, files, "volts" if by_volts else "duty", answer.stops, answer.stop, answer.start,
        lowest, full, answer.peak, _tried_at(answer), run.attempts, run.attempts - len(run.failed),
        0.0 if by_volts else max(away, key=abs),
    )  # fmt: skip


def _faults(runs: Sequence[ControlRun], truths: Sequence[ControlTruth]) -> Iterator[Fault]:
    for run, truth in zip(runs, truths, strict=True):
        if run.frequency != GENERATOR:
            yield Fault(
                "slow PWM generator on a control run", "the PWM generator runs at too low a frequency", run.fan,
                run.sample, run.name, truth.files,
                f"the spare generator runs at {run.frequency / 1000:g} kHz: the fan takes its duty for a higher one",
                "pwm_frequency", None, "speed against duty", "exclude the mounting, or repeat it", 21, "generator",
            )  # fmt: skip
