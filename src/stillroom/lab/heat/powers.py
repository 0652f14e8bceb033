"""A fan's power from its mountings on the scale of its logarithm, on which no draw falls below zero.

A spread of some per cent is as much up as down on that scale. On the plain one a draw of the spread is a share of the
central power, and falls on trials at low speeds that take a small part of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from stillroom.core.combine import FanValue, MountingResult, VarianceParts, combine_mountings
from stillroom.core.spread import Spreads
from stillroom.errors import OutOfRange


def combine_powers(mountings: Sequence[MountingResult], spreads: Spreads, *, identity: str) -> FanValue:
    """A fan's power from its mountings: the geometric mean, in watts like its trials and its variance.

    Parameters
    ----------
    mountings : powers [W]. spreads : relative to the power. identity : of the spreads, as for `combine_mountings`.

    Returns
    -------
    FanValue; loadings and variances are those of ln P times the power, first order.

    Raises
    ------
    OutOfRange : a power that is not above zero. BadInput : as of `combine_mountings`.
    """
    found = combine_mountings([_logarithm(each) for each in mountings], spreads, identity=identity, scale=1.0)
    value = float(np.exp(found.value))
    square = value * value
    parts = VarianceParts(
        sample=found.parts.sample * square,
        mounting=found.parts.mounting * square,
        mountings_per_sample=found.parts.mountings_per_sample,
        loadings={name: value * each for name, each in found.parts.loadings.items()},
    )
    return replace(
        found,
        value=value,
        trials=np.exp(found.trials),
        variance=found.variance * square,
        own_variance=found.own_variance * square,
        loadings={name: value * each for name, each in found.loadings.items()},
        parts=parts,
    )


def _logarithm(each: MountingResult) -> MountingResult:
    """A mounting's power as ln P."""
    total = each.shared_trials + each.noise_trials
    if not (each.value > 0.0 and (each.shared_trials > 0.0).all() and (total > 0.0).all()):
        raise OutOfRange(
            "power of the fans", found=f"{each.value:g} W in {each.mounting}", expected="above 0"
        )
    shared = np.log(each.shared_trials)
    return replace(
        each,
        value=float(np.log(each.value)),
        shared_trials=shared,
        noise_trials=np.log(total) - shared,
        loadings={name: loading / each.value for name, loading in each.loadings.items()},
    )
