"""The heat rig's tables: which logger file is what, who was mounted when, what each run was set to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from stillroom.demo.calendar import Calendar
from stillroom.demo.catalogue import INITIALS
from stillroom.demo.fan import Control
from stillroom.demo.heat.plan import RIG, HeatRun
from stillroom.demo.heat.setting_up import Chosen
from stillroom.demo.tables import write_table

RUNS, MOUNTINGS, STEPS = "heat-runs.csv", "heat-mountings.csv", "heat-steps.csv"
BATH = "bath"


@dataclass(frozen=True)
class LogLine:
    """One line of the table of log files; `clock_offset` [s] is added to the logger's times."""

    file: str
    logger: str
    session: str
    run: HeatRun | None
    clock_offset: float = 0.0
    what: str = ""


def write_heat_runs(folder: Path, lines: Iterable[LogLine], filled: str) -> None:
    """The table of log files; `filled` is the day on which the coolant was filled in."""
    header = ["file", "rig", "session", "mounting", "fan", "sample", "logger", "clock offset [s]", "what",
              "coolant filled"]  # fmt: skip
    rows = [
        [each.file, RIG, each.session, *_whose(each.run), each.logger,
         f"{each.clock_offset:g}" if each.clock_offset else "", each.what, filled if each.run else ""]
        for each in lines
    ]  # fmt: skip
    write_table(folder / RUNS, header, rows)


def write_heat_mountings(folder: Path, runs: Sequence[HeatRun], calendar: Calendar) -> None:
    """The table of who was mounted when."""
    rows = [
        [each.name, each.fan, each.sample, RIG, calendar.day(each.day), INITIALS[each.day % len(INITIALS)]]
        for each in runs
    ]
    write_table(folder / MOUNTINGS, ["mounting", "fan", "sample", "rig", "date", "by"], rows)


def write_steps(folder: Path, planned: Iterable[tuple[HeatRun, Sequence[Chosen]]]) -> None:
    """The table of settings: what the set list told the operator, in order."""
    rows = []
    for run, chosen in planned:
        for number, each in enumerate(chosen, start=1):
            by = [f"{each.setting.value:g}" if each.setting.control is way else "" for way in Control]
            noise = "" if each.noise is None else f"{each.noise:g}"
            note = "the first setting again" if run.again and number == len(chosen) else ""
            rows.append([run.name, number, *by, noise, note])
    write_table(folder / STEPS, ["mounting", "step", "duty [%]", "volts [V]", "noise [dBA]", "note"], rows)


def _whose(run: HeatRun | None) -> list[str]:
    return [run.name, run.fan, run.sample] if run else ["", "", ""]
