"""A mounting's heat of another era of its rig as the era of the comparison would have read it."""

from __future__ import annotations

from dataclasses import replace

from stillroom.core.heat.heat_mounting import HeatMounting, HeatStep
from stillroom.core.shift import NORMAL_95, Shift


def carried(heat: HeatMounting, shift: Shift) -> HeatMounting:
    """A mounting's heat, brought over by a bridge: its curve, its steps, and what they share."""
    curve = heat.curve
    if curve is not None:
        central, sources, effects = shift.carry(curve.central, curve.sources, curve.effects)
        curve = replace(curve, central=central, sources=sources, effects=effects)
    shared = dict(heat.sources or {})
    for name, loading in shift.loadings.items():
        shared[name] = shared.get(name, 0.0) + loading
    shared[shift.identity] = shift.reach / NORMAL_95
    return replace(heat, curve=curve, steps=tuple(_step(each, shift) for each in heat.steps), sources=shared)


def _step(step: HeatStep, shift: Shift) -> HeatStep:
    if not step.is_result:
        return step
    rise = step.delta_nominal + shift.change
    return replace(step, delta_nominal=rise, conductance=step.nominal / rise)
