"""Readings of the probes put right, and what of their errors a whole rig shares.

Calibrations come first; what they leave between the probes, a common bath tells.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.autocorrelation import mean_of
from stillroom.core.heat.probes import Offset, Offsets, offsets_from_bath
from stillroom.errors import NotPossible, StillroomError
from stillroom.methods.airflow.chain import Chain
from stillroom.methods.heat.channels import HOT, LIQUID_IN, LIQUID_OUT, is_air_probe, probes_of
from stillroom.methods.heat.told import Log

UNTOLD_LIMIT = 0.5
"""Limit of error of a probe of which nothing is told [K]: a thermocouple of type T, class 1, below 125 °C
(IEC 60584-1:2013, from memory)."""

NOT_ZEROED = "probes not zeroed together"


@dataclass(frozen=True)
class Probes:
    """The probes of one mounting.

    Parameters
    ----------
    offsets : {probe: {"offset", "u" [K], "from": where it comes from}}; those of the liquid where a bath tells them.
    u_hot, u_air : standard uncertainty by the hot probe and by those of the air, shared by all runs of a rig [K].
    marks : what must be said.
    """

    offsets: Mapping[str, Mapping[str, Any]]
    u_hot: float
    u_air: float
    marks: tuple[str, ...]


def calibrated(log: Log) -> dict[str, Array]:
    """The columns of a log as they were there, by the calibrations of its channels."""
    chains = log.told.chains
    return {
        name: chains[name].true(np.asarray(values, dtype=np.float64))
        if name in chains
        else np.asarray(values)
        for name, values in log.columns.items()
    }


def probes_of_run(logs: Sequence[Log], baths: Sequence[Log]) -> Probes:
    """Offsets of the probes that a mounting's logs read, and their shared uncertainty.

    Parameters
    ----------
    logs : of the mounting. baths : all probes in one bath, the one that counts first; none where none was recorded.
    """
    chains = {name: log.told.chains.get(name) for log in logs for name in probes_of(log.columns)}
    bath, why = _of_bath(baths, chains)
    if bath is not None:
        return bath
    us = {name: _u_of(chain) for name, chain in chains.items()}
    found = {
        name: {"offset": chain.offset if chain else 0.0, "u": us[name], "from": _from(chain)}
        for name, chain in chains.items()
    }
    untold = any(not _is_calibrated(chain) for chain in chains.values())
    return Probes(found, us.get(HOT, 0.0), _mean_u(us), ((NOT_ZEROED,) if untold else ()) + why)


def _of_bath(
    baths: Sequence[Log], chains: Mapping[str, Chain | None]
) -> tuple[Probes | None, tuple[str, ...]]:
    """By the first bath in which all the probes lay, None where there is none such; and why others were not used."""
    why: list[str] = []
    for bath in baths:
        columns = calibrated(bath)
        readings = {name: columns[name] for name in probes_of(columns) if name in chains}
        if readings.keys() != chains.keys() or len(readings) < 2:
            continue
        try:
            made = offsets_from_bath(readings)
        except StillroomError as error:  # a bath that was not at rest tells nothing; the next one may
            why.append(f"bath {bath.told.file} not used: {error.sentence()}")
            continue
        us = {name: math.hypot(each.u, made.u_bath) for name, each in made.probes.items()}
        offsets = {**made.probes, **_of_liquid(columns, readings)}
        found = {
            name: {
                "offset": each.value,
                "u": math.hypot(each.u, made.u_bath),
                "from": f"bath {bath.told.file}",
            }
            for name, each in offsets.items()
        }
        return Probes(found, *_split(made, us), ()), ()
    return None, tuple(why)


def _of_liquid(columns: Mapping[str, Array], readings: Mapping[str, Array]) -> dict[str, Offset]:
    """What the probes of the liquid read above the mean of the others in a bath, those that lay in it: their small
    difference is what the heat balance rests on.
    """
    mean = np.mean(list(readings.values()), axis=0)
    found: dict[str, Offset] = {}
    for name in (LIQUID_IN, LIQUID_OUT):
        if name in columns:
            with suppress(NotPossible):  # hardly read there
                own = mean_of(columns[name] - mean)
                found[name] = Offset(own.value, own.u)
    return found


def _split(made: Offsets, us: Mapping[str, float]) -> tuple[float, float]:
    """The uncertainty of the difference in two parts, in proportion to those of the hot probe and of the air."""
    air = [name for name in us if is_air_probe(name)]
    if HOT not in us or not air:
        return us.get(HOT, 0.0), _mean_u(us)
    hot, mean = us[HOT], _mean_u(us)
    whole, plain = made.u_difference((HOT,), air), math.hypot(hot, mean)
    share = whole / plain if plain > 0.0 else 0.0
    return hot * share, mean * share


def _mean_u(us: Mapping[str, float]) -> float:
    """Standard uncertainty of the mean of the probes of the air, each with its own error [K]."""
    air = [u for name, u in us.items() if is_air_probe(name)]
    return math.sqrt(sum(u * u for u in air)) / len(air) if air else 0.0


def _is_calibrated(chain: Chain | None) -> bool:
    return chain is not None and (chain.offset_u > 0.0 or chain.offset != 0.0 or bool(chain.linearity))


def _u_of(chain: Chain | None, temperature: float = 310.0) -> float:
    """Standard uncertainty of a probe by what its calibration leaves, or by its class [K]."""
    shared = [float(effect[0]) for _, effect in chain.shared(np.array([temperature]))] if chain else []
    return math.sqrt(sum(each * each for each in shared)) if shared else UNTOLD_LIMIT / math.sqrt(3.0)


def _from(chain: Chain | None) -> str:
    if chain is None:
        return "nothing told"
    return (
        f"calibration of {chain.instrument}" if _is_calibrated(chain) else f"accuracy of {chain.instrument}"
    )


def put_right(columns: Mapping[str, Array], probes: Probes) -> dict[str, Array]:
    """Calibrated columns with the offsets that a bath tells taken off."""
    by_bath = {name for name, told in probes.offsets.items() if str(told["from"]).startswith("bath ")}
    return {
        name: values - probes.offsets[name]["offset"] if name in by_bath else values
        for name, values in columns.items()
    }
