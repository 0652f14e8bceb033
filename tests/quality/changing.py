"""Facts in which one thing is changed: of a run, a mounting, a fan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from stillroom.quality import Finding, check_fan
from stillroom.quality.facts import FanFacts, MountingFacts, RunFacts

Change = Callable[[RunFacts], RunFacts]


def with_mounting(fan: FanFacts, name: str, change: Change) -> FanFacts:
    """The fan with all runs of one mounting changed."""
    return with_mountings(
        fan, lambda each: replace(each, runs=tuple(map(change, each.runs))) if each.name == name else each
    )


def with_mountings(fan: FanFacts, change: Callable[[MountingFacts], MountingFacts]) -> FanFacts:
    return replace(fan, mountings=tuple(map(change, fan.mountings)))


def changed_run(fan: FanFacts, change: Change, which: int = -1) -> FanFacts:
    """The fan with one run of its first mounting changed."""

    def of_first(mounting: MountingFacts) -> MountingFacts:
        if mounting.name != fan.mountings[0].name:
            return mounting
        runs = list(mounting.runs)
        runs[which] = change(runs[which])
        return replace(mounting, runs=tuple(runs))

    return with_mountings(fan, of_first)


def read_as(name: str, values: Callable[[RunFacts], np.ndarray]) -> Change:
    return lambda run: replace(run, read={**run.read, name: values(run)})


def flow_times(factor: float | np.ndarray) -> Change:
    return lambda run: replace(run, flow=run.flow * factor, phi=run.phi * factor)


def pressure_times(factor: float) -> Change:
    return lambda run: replace(run, pressure=run.pressure * factor, psi=run.psi * factor)


def pressure_plus(shift: float | np.ndarray) -> Change:
    """A pressure gauge that reads so many pascals more."""

    def change(run: RunFacts) -> RunFacts:
        large = int(np.argmax(np.abs(run.pressure)))
        per = run.psi[large] / run.pressure[large]
        if run.speed is not None:
            per = per * (run.speed[large] / run.speed) ** 2
        return replace(run, pressure=run.pressure + shift, psi=run.psi + shift * per)

    return change


def speed_times(factor: float) -> Change:
    """A tachometer that reads so many times the true speed."""

    def change(run: RunFacts) -> RunFacts:
        assert run.speed is not None
        return replace(run, speed=run.speed * factor, phi=run.phi / factor, psi=run.psi / factor**2)

    return change


PER_POINT = (
    "flow",
    "pressure",
    "speed",
    "power",
    "own_flow",
    "own_pressure",
    "phi",
    "psi",
    "reynolds",
    "scatter",
)


def points(run: RunFacts, keep: np.ndarray) -> RunFacts:
    """Some of a run's points."""
    values = {name: getattr(run, name) for name in PER_POINT}
    cut = {name: None if each is None else each[keep] for name, each in values.items()}
    at = np.flatnonzero(keep)
    return replace(
        run, **cut, nozzles=tuple(run.nozzles[i] for i in at), lines=tuple(run.lines[i] for i in at),
        read={name: each[keep] for name, each in run.read.items()}, held=(),
    )  # fmt: skip


def of_rule(fan: FanFacts, rule: int) -> list[Finding]:
    return [each for each in check_fan(fan) if each.rule == rule]


def alone(fan: FanFacts) -> FanFacts:
    """The fan's first mounting, with nothing else to be held against: neither box nor other mountings."""
    assert fan.record is not None
    return replace(fan, mountings=fan.mountings[:1], record=replace(fan.record, full_speed=None))
