"""From the readings of one mounting to its characteristic."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic.checks import describe_sweeps, held_points, residuals
from stillroom.core.characteristic.curve import Characteristic
from stillroom.core.characteristic.readings import LEAST_POINTS, Readings
from stillroom.core.characteristic.screen import screen
from stillroom.core.characteristic.settle import REYNOLDS_MEAN, Settled, settle
from stillroom.core.characteristic.smooth import inverse, restricted_likelihood
from stillroom.core.characteristic.sweeps import FAILS, POINT_FAILS, point_tests, sweep_tests, worst
from stillroom.core.draws import SEED, normal_block, normal_draws, uniform_draws
from stillroom.errors import NotPossible

SMOOTHNESSES = 10.0 ** np.linspace(-1.5, 1.5, 7)  # around the λ of greatest likelihood
FREEDOM = 6  # of the t factor on the mounting's own part
MOST_HELD = 0.1  # share of the points that may be held once the curve stands
WIDEST = 3.0  # greatest t factor
TRIALS = 2000


def fit_characteristic(readings: Readings, trials: int = TRIALS, seed: int = SEED) -> Characteristic:
    """Fit one characteristic to all sweeps of a mounting, and carry its errors as trials.

    Parameters
    ----------
    readings : the reduced points with their errors.
    trials : number M of trials.
    seed : seed of all draws. Source i moves by `normal_draws(sources[i])`, wherever it occurs.

    Returns
    -------
    The characteristic, with its checks of each sweep and the points that were held.

    Raises
    ------
    Contradiction : the sweeps contradict each other and no set of them is the largest.
    NotPossible : fewer than six points are left after screening.

    Limits
    ------
    A point can only be told wrong by other sweeps; in a single sweep nothing is held. Between aligned
    settings the shape is a guess with an interval: settings staggered from speed to speed halve it.
    """
    used, held = screen(readings)
    settled, later = _settle_agreeing(readings, used)
    held = np.sort(np.concatenate([held, later]))
    characteristic = _with_trials(readings, settled, trials, seed)
    return replace(
        characteristic,
        residuals=residuals(readings, characteristic),
        sweeps=describe_sweeps(readings, settled, characteristic),
        held=held_points(readings, held, characteristic),
    )


def _settle_agreeing(readings: Readings, used: NDArray[np.intp]) -> tuple[Settled, NDArray[np.intp]]:
    """Settle; hold the worst point or drop the worst sweep as long as one fails and at least two sweeps stay.

    Returns what is settled and the indices of the points held on the way.
    """
    held: list[int] = []
    while True:
        if len(used) < LEAST_POINTS:
            raise NotPossible(
                f"characteristic of {readings.identity}",
                found=f"{len(used)} points that agree",
                expected=f"at least {LEAST_POINTS}",
            )
        settled = settle(readings, used)
        tests = sweep_tests(readings, settled)
        points = np.abs(point_tests(settled))
        failing = max(tests, key=lambda each: worst(tests[each]))
        if len(tests) < 3:
            break
        if points.max() > max(POINT_FAILS, worst(tests[failing])) and len(held) < MOST_HELD * readings.points:
            held.append(int(used[np.argmax(points)]))
            used = np.delete(used, int(np.argmax(points)))
        elif worst(tests[failing]) > FAILS:
            used = used[readings.sweep[used] != failing]
            held = [each for each in held if readings.sweep[each] != failing]
        else:
            break
    return settled, np.array(held, dtype=np.intp)


def _with_trials(readings: Readings, settled: Settled, trials: int, seed: int) -> Characteristic:
    """Mix the curve over its smoothness and draw its trials."""
    solved, system = settled.solved, settled.solved.system
    smoothnesses = settled.smoothness * SMOOTHNESSES
    likelihood = restricted_likelihood(solved, smoothnesses)
    weights = np.exp(likelihood - likelihood.max())
    weights /= weights.sum()
    inverses = [inverse(solved, each) for each in smoothnesses]
    maps = np.stack([each @ solved.weighted for each in inverses])
    mean_map = np.tensordot(weights, maps, axes=1)
    central = mean_map @ system.response
    central[-2:] += REYNOLDS_MEAN
    draws = np.stack([normal_draws(each, trials, seed) for each in readings.sources] or [np.zeros(trials)])
    shared = system.shared.T @ draws[: len(readings.sources)]
    noise = np.empty((trials, len(central)))
    raw = _raw_noise(readings, settled, trials, seed)
    widened = _widening(readings.identity, trials, seed)
    pick = uniform_draws(f"{readings.identity}/smoothness", trials, seed) / 12**0.5 + 0.5
    chosen = np.minimum(np.searchsorted(np.cumsum(weights), pick), len(weights) - 1)
    for index, smoothness in enumerate(smoothnesses):
        mine = np.flatnonzero(chosen == index)
        readings_part, curve_part, prior_part = (each[:, mine] for each in raw)
        prior_part = prior_part * np.sqrt(system.prior_precision[-2:, None])
        drawn = solved.weighted @ readings_part - np.sqrt(smoothness) * (system.roughness.T @ curve_part)
        drawn[-2:] -= prior_part
        own = (inverses[index] @ drawn) * widened[mine]
        own += (maps[index] - mean_map) @ (system.response[:, None] + shared[:, mine])
        noise[mine] = own.T
    return _characteristic(readings, settled, central, (mean_map @ system.shared.T).T, noise, seed)


def _raw_noise(readings: Readings, settled: Settled, trials: int, seed: int) -> tuple[Array, Array, Array]:
    """Draws of reading errors (n, M), of the curve between the points (q, M), of the Reynolds prior (2, M).

    They follow Matheron's rule: a curve drawn from the prior less its own fit has the posterior's covariance.
    """
    system = settled.solved.system
    block = normal_block(f"{readings.identity}/readings", readings.points, trials, seed)[settled.used]
    return (
        block * np.sqrt(system.own_variance)[:, None],
        normal_block(f"{readings.identity}/curve", len(system.roughness), trials, seed),
        normal_block(f"{readings.identity}/reynolds", 2, trials, seed),
    )


def _widening(identity: str, trials: int, seed: int) -> Array:
    """√(ν/χ²_ν), the factor that turns a normal draw into Student's t with ν degrees of freedom.

    It is held to 3 (reached in 0.5 % of trials): far tails of t have no meaning for a curve's shape.
    """
    squares = normal_block(f"{identity}/spread", FREEDOM, trials, seed) ** 2
    return np.asarray(np.minimum(np.sqrt(FREEDOM / squares.sum(axis=0)), WIDEST))


def _characteristic(
    readings: Readings, settled: Settled, central: Array, effects: Array, noise: Array, seed: int
) -> Characteristic:
    used = settled.used
    flow, reynolds = readings.flow_coefficient[used], readings.reynolds[used]
    scatter = np.interp(readings.flow_coefficient, *_rising(flow, settled.scatter))
    return Characteristic(
        identity=readings.identity,
        sources=readings.sources,
        seed=seed,
        reach=(float(flow.min()), float(flow.max())),
        reynolds_reach=(float(reynolds.min()), float(reynolds.max())),
        low=settled.basis.low,
        high=settled.basis.high,
        reynolds_reference=settled.reference,
        central=central,
        effects=effects,
        noise=noise,
        sweeps=(),
        held=(),
        residuals=np.zeros(readings.points),
        extra_scatter=np.asarray(scatter),
    )


def _rising(x: Array, y: Array) -> tuple[Array, Array]:
    order = np.argsort(x, kind="stable")
    return x[order], y[order]
