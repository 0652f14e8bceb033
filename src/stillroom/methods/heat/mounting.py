"""From the logs of one mounting to its heat: aligned, cut into settings, each steady, forecast, or neither."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.forecast import TimeConstant
from stillroom.core.heat.heat_curve import HeatCurve, fit_heat
from stillroom.core.heat.heat_mounting import SOME_FORECAST, HeatMounting, HeatStep, StepHow, heat_points
from stillroom.core.heat.liquid import Liquid
from stillroom.errors import NotPossible, StillroomError
from stillroom.methods.heat.aligning import Aligned, aligned
from stillroom.methods.heat.constants import Capacity, capacity_of, resistance_of, told_constant
from stillroom.methods.heat.cutting import Setting, settings_of
from stillroom.methods.heat.liquids import liquid_named
from stillroom.methods.heat.probes import Probes, calibrated, probes_of_run, put_right
from stillroom.methods.heat.series import HeatSeries
from stillroom.methods.heat.series_of import series_of
from stillroom.methods.heat.sources import shared_sources
from stillroom.methods.heat.stepping import Followed, StepContext, follow_step
from stillroom.methods.heat.told import HeatTold, Log, StepTold

NO_SPEED = "speed not read: nothing is said between its settings"


@dataclass(frozen=True)
class Reduced:
    """A mounting's heat, and what was done in plain words.

    Parameters
    ----------
    heat : None where no run could be used; then `failed` says why. logs, cuts : a dict each.
    offsets : of the probes. series : behind the steps, None without any.
    """

    heat: HeatMounting | None
    failed: str
    logs: tuple[dict[str, Any], ...]
    cuts: tuple[dict[str, Any], ...] = ()
    offsets: Mapping[str, Any] | None = None
    series: HeatSeries | None = None
    marks: tuple[str, ...] = ()


def reduce_heat(runs: Sequence[Sequence[Log]], told: HeatTold) -> Reduced:
    """Reduce the logs of one mounting.

    Parameters
    ----------
    runs : of each run the logs that make it. told : of the mounting.
    """
    logs = [log for run in runs for log in run]
    facts = tuple(_log_facts(each) for each in logs)
    try:
        liquid = liquid_named(told.rig.coolant)
        work = _Work(told, logs, liquid)
        work.take(runs)
    except StillroomError as error:
        return Reduced(None, error.sentence(), facts)
    if not work.steps:
        return Reduced(None, "; ".join(work.failed) or "no step", facts, work.cuts, work.probes.offsets)
    heat = work.heat()
    series = series_of(work.runs, work.followed, told.rig.nominal)
    facts = tuple(each | {"steps": work.lines_of(log)} for each, log in zip(facts, logs, strict=True))
    return Reduced(heat, "", facts, work.cuts, work.probes.offsets, series, heat.marks)


def _log_facts(log: Log) -> dict[str, Any]:
    times = log.columns["time"]
    return {
        "run": log.told.run,
        "key": log.told.key,
        "file": log.told.file,
        "logger": log.told.logger,
        "channels": [name for name in log.columns if name != "time"],
        "rows": len(times),
        "gaps": log.gaps,
        "repeated": log.repeated,
        "first": int(log.lines[0]) if len(log.lines) else None,
        "last": int(log.lines[-1]) if len(log.lines) else None,
    }


class _Work:
    """The steps of a mounting, worked out one after the other."""

    def __init__(self, told: HeatTold, logs: Sequence[Log], liquid: Liquid | None) -> None:
        self.told, self.logs, self.liquid = told, logs, liquid
        self.probes: Probes = probes_of_run(logs, told.baths)
        self.runs: list[tuple[Aligned, float]] = []
        self.followed: list[Followed] = []
        self.settings: list[Setting] = []
        self.failed: list[str] = []
        self.marks: list[str] = list(self.probes.marks)

    def take(self, runs: Sequence[Sequence[Log]]) -> None:
        """Work out all runs, on the clock of the first."""
        corrected = {log.told.run: put_right(calibrated(log), self.probes) for log in self.logs}
        made: list[tuple[Aligned, tuple[StepTold, ...]]] = []
        for run, steps in zip_longest(runs, self.told.steps, fillvalue=()):
            try:
                made.append((aligned(run, corrected), steps))
            except NotPossible as error:
                self.failed.append(error.sentence())
        made.sort(key=lambda each: np.inf if each[0].start is None else each[0].start)
        pieces: list[_Piece] = []
        for each, steps in made:
            self.runs.append((each, self._begins(each)))
            self.marks += each.marks
            pieces += self._pieces(*self.runs[-1], steps)
        self.marks += self._outside()
        self.followed = self._reduced(pieces)

    @property
    def steps(self) -> list[HeatStep]:
        """All steps, results or not."""
        return [each.step for each in self.followed]

    def lines_of(self, log: Log) -> list[tuple[int, int, int]]:
        """(number, first, last line) of each step that is a result and lies in a log."""
        begins = [run.begins[log.told.run] + began for run, began in self.runs if log.told.run in run.begins]
        if not begins or not len(log.lines):
            return []
        times = np.asarray(log.columns["time"]) + begins[0]
        found: list[tuple[int, int, int]] = []
        for step in self.steps:
            inside = np.flatnonzero((times >= step.first - STAMP) & (times <= step.last + STAMP))
            if step.is_result and len(inside):
                found.append((step.number, int(log.lines[inside[0]]), int(log.lines[inside[-1]])))
        return found

    def _outside(self) -> list[str]:
        """What is said of steps whose ends are told, and lie in no run."""
        told = {
            one.number for steps in self.told.steps for one in steps if one.first is not None or one.moment
        }
        missed = sorted(told - {each.told for each in self.settings})
        return [f"no readings where these steps are told: {', '.join(map(str, missed))}"] if missed else []

    def _begins(self, run: Aligned) -> float:
        """When a run begins on the mounting's clock [s]: by its time of day, else after what went before."""
        if not self.runs:
            return 0.0
        first, (last, began) = self.runs[0][0], self.runs[-1]
        if run.start is not None and first.start is not None:
            return run.start - first.start
        return began + float(last.channels.times[-1]) + 1.0

    def _pieces(self, run: Aligned, began: float, steps: Sequence[StepTold]) -> list[_Piece]:
        tau = self.told.rig.tau
        found, marks = settings_of(
            run.channels,
            run.start,
            steps,
            kind=self.told.setting_kind,
            setting=self.told.setting,
            tau=tau,
        )
        self.marks += marks
        self.settings += [replace(each, first=each.first + began, last=each.last + began) for each in found]
        return [_Piece(run, began, each) for each in found]

    def _context(self, number: int, setting: Setting, known: TimeConstant | None) -> StepContext:
        rig = self.told.rig
        return StepContext(
            number=number,
            nominal=rig.nominal,
            setting_kind=setting.kind,
            setting=setting.setting,
            noise=setting.noise,
            known=known,
            tolerance=self.told.tolerance,
            liquid=self.liquid,
            pump_power=rig.pump_power,
        )

    def _reduced(self, pieces: Sequence[_Piece]) -> list[Followed]:
        """All steps; where the rig's record tells no time constant, the short ones by what the long ones tell."""
        rig = self.told.rig
        known = told_constant(rig.tau) if rig.tau else None
        pairs: list[tuple[_Piece, Followed]] = []
        for piece in pieces:
            followed = self._step(piece, len(pairs) + 1, known)
            if followed is not None:
                pairs.append((piece, followed))
        capacity = None if known else capacity_of(followed.step for _, followed in pairs)
        if capacity is None:
            return [followed for _, followed in pairs]
        return [self._again(piece, followed, capacity) for piece, followed in pairs]

    def _again(self, piece: _Piece, followed: Followed, capacity: Capacity) -> Followed:
        step = followed.step
        resistance = resistance_of(step)
        if resistance is None or (step.is_result and (step.span or 0.0) >= ENOUGH):
            return followed
        return self._step(piece, step.number, capacity.constant(resistance)) or followed

    def _step(self, piece: _Piece, number: int, known: TimeConstant | None) -> Followed | None:
        setting = piece.setting
        channels = piece.run.channels.between(setting.first, setting.last)
        try:
            followed = follow_step(channels, self._context(number, setting, known))
        except StillroomError as error:
            begin, end = ((each + piece.began) / 60.0 for each in (setting.first, setting.last))
            self.failed.append(f"{begin:.0f} to {end:.0f} min: {error.sentence()}")
            return None
        return replace(followed, step=_later(followed.step, piece.began), times=followed.times + piece.began)

    @property
    def cuts(self) -> tuple[dict[str, Any], ...]:
        """How the settings were found."""
        return tuple(
            {
                "first": each.first,
                "last": each.last,
                "kind": each.kind,
                "setting": each.setting,
                "noise": each.noise,
                "by": each.by.value,
                "told": each.told,
            }
            for each in self.settings
        )

    def heat(self) -> HeatMounting:
        """The mounting as it is kept."""
        rig, results = self.told.rig, [each for each in self.steps if each.is_result]
        sources = shared_sources(results, rig, self.logs, self.probes, self.liquid) if results else {}
        curve = self._curve(results, sources)
        return HeatMounting(
            steps=tuple(self.steps),
            curve=curve,
            nominal=rig.nominal,
            fans=rig.fans,
            clocks=tuple(clock.facts() for run, _ in self.runs for clock in run.clocks),
            sources={name: float(np.sqrt(np.mean(np.square(each)))) for name, each in sources.items()},
            marks=tuple(dict.fromkeys([*self.marks, *self.failed, *self._all_marks(results, curve)])),
        )

    def _all_marks(self, results: Sequence[HeatStep], curve: HeatCurve | None) -> list[str]:
        """What must be said of the mounting as a whole."""
        marks = [SOME_FORECAST] if any(each.how is StepHow.FORECAST for each in results) else []
        if results and curve is None:
            marks.append(NO_SPEED)
        return marks

    def _curve(self, results: Sequence[HeatStep], sources: Mapping[str, Array]) -> HeatCurve | None:
        used = [i for i, each in enumerate(results) if each.speed is not None]
        if not used:
            return None
        coldest = min(results, key=lambda each: each.delta_nominal)
        if not coldest.delta_nominal > 0.0:
            raise NotPossible(
                f"step {coldest.number}",
                found=f"the hot probe {-coldest.delta:.1f} K under the air",
                expected="a hot probe warmer than the air: it and an air probe may be exchanged",
            )
        return fit_heat(
            heat_points(results),
            identity=f"heat/{self.told.identity}",
            sources={name: each[used] for name, each in sources.items()},
            trials=self.told.trials,
        )


STAMP = 0.5
"""Another logger's stamp falls within so much of a step's ends [s]."""

ENOUGH = 3.5
"""A step of so many time constants says itself what its time constant is [1]."""


@dataclass(frozen=True)
class _Piece:
    """One setting of one run, which began at a second of the mounting's clock."""

    run: Aligned
    began: float
    setting: Setting


def _later(step: HeatStep, seconds: float) -> HeatStep:
    """A step on the clock of the mounting, which began earlier than its run."""

    def moved(facts: Mapping[str, Any] | None, names: tuple[str, ...]) -> Mapping[str, Any] | None:
        if facts is None:
            return None
        return {**facts, **{name: facts[name] + seconds for name in names if facts[name] is not None}}

    return replace(
        step,
        first=step.first + seconds,
        last=step.last + seconds,
        steadiness=moved(step.steadiness, ("since",)),
        forecast=moved(step.forecast, ("start", "end")),
    )
