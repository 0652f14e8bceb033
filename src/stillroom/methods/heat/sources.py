"""What the temperature rises of a mounting share with others, by identity: probes, heater, coolant."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.core.heat.liquid import WATER, Liquid
from stillroom.methods.airflow.chain import Chain
from stillroom.methods.heat.channels import HEATER, HEATER_AMPS, HEATER_VOLTS
from stillroom.methods.heat.probes import Probes
from stillroom.methods.heat.told import Log, RigTold

UNTOLD_POWER = 0.005
"""Relative standard uncertainty of the electric heat where no instrument is told [1] (common practice)."""

COOLANT_FLOW = 0.02
"""Relative standard uncertainty of the coolant's flow within one filling [1] (common practice: −1 % a month)."""

WARM = 313.15
"""Temperature at which a loop's heat capacity is taken for that [K]."""


def shared_sources(
    steps: Sequence[HeatStep], rig: RigTold, logs: Sequence[Log], probes: Probes, liquid: Liquid | None
) -> dict[str, Array]:
    """The sources that steps share with other runs, as changes of their rise at nominal power [K].

    Parameters
    ----------
    steps : that are results. rig : as it stood. logs : of the mounting, with how each channel is measured.
    probes : with their offsets. liquid : in the loop, None where nobody told.

    Returns
    -------
    {identity: change by +1 standard deviation, (n,) in the order of steps}.
    """
    rise = np.array([each.delta_nominal for each in steps])
    scale = np.array([_per_kelvin(each) for each in steps])
    found = {f"probe/{rig.name}/hot": probes.u_hot * scale, f"probe/{rig.name}/air": -probes.u_air * scale}
    if all(np.isfinite(each.power) for each in steps):
        instrument, u = _heater(logs, [each.power for each in steps])
        found[f"heater/{instrument or rig.name}"] = -u * rise
    era = rig.coolant_era or "untold filling"
    found[f"coolant/{rig.name}/{era}"] = -COOLANT_FLOW * np.array(
        [_by_flow(each, rig, liquid) for each in steps]
    )
    return {name: effect for name, effect in found.items() if np.any(effect)}


def _per_kelvin(step: HeatStep) -> float:
    """What one kelvin of a probe does to the rise at nominal power [1]."""
    return step.nominal / step.power if np.isfinite(step.power) and step.power > 0.0 else 1.0


def _heater(logs: Sequence[Log], powers: Sequence[float]) -> tuple[str, float]:
    """The instruments that tell the heat, "" where none is named, and its relative standard uncertainty [1]."""
    for names in ((HEATER_VOLTS, HEATER_AMPS), (HEATER,)):
        read = {name: log for log in logs for name in log.columns if name in names}
        if set(names) <= read.keys():
            chains = [(name, read[name].told.chains.get(name)) for name in names]
            us = [_relative(chain, read[name].columns[name], powers) for name, chain in chains]
            named = sorted({chain.instrument for _, chain in chains if chain is not None})
            if any(u is not None for u in us):
                return "+".join(named), math.hypot(*(UNTOLD_POWER if u is None else u for u in us))
    return "", UNTOLD_POWER


def _relative(chain: Chain | None, values: Array, powers: Sequence[float]) -> float | None:
    """Relative standard uncertainty that a chain's runs share at its usual reading; None where nothing is told."""
    if chain is None:
        return None
    usual = float(np.nanmedian(values[values > 0.0])) if (values > 0.0).any() else float(np.mean(powers))
    effects = [float(effect[0]) for _, effect in chain.shared(np.array([usual]))]
    return math.sqrt(sum(each * each for each in effects)) / abs(usual) if effects and usual else None


def _by_flow(step: HeatStep, rig: RigTold, liquid: Liquid | None) -> float:
    """What a coolant flow that is greater by its whole takes off a rise [K]: half of the liquid's own rise, since the
    radiator sees the mean of liquid in and out.
    """
    flow = step.liquid_flow or rig.flow
    if not flow:
        return 0.1 * step.delta_nominal
    carried = liquid or WATER
    capacity = flow * float(carried.density(WARM)) * float(carried.specific_heat(WARM))
    return 0.5 * step.nominal / capacity
