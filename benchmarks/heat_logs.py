"""Steadiness, forecast and mean of logs of heat runs: ours against a notebook with pandas and statsmodels.

Run `python benchmarks/heat_logs.py [--quick]`: logs of 40 minutes at 1 Hz with correlated readings and a few spikes,
both ways in one process, in turn, on the same logs. The notebook does the same with what is at hand: spikes out by a
rolling median (pandas); slope at the end over three time constants by `GLSAR` with AR(1), as a line and as a line with
an exponential, back in quarters of a time constant to where it wasn't steady; end and interval by `GLSAR` of the
exponential and three faster modes, with the time constant sought by scipy's `minimize_scalar`; and the mean of the last
time constant with its correlation (`acf`). It is timed on a few logs and scaled; both are processor time. Then the
update of eight rigs by one more reading each: steadiness and forecast, as `watch` asks for them.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
import warnings
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from scipy.optimize import minimize_scalar
from scipy.signal import lfilter

from stillroom.core.arrays import Array
from stillroom.core.heat.autocorrelation import mean_of
from stillroom.core.heat.running import Running
from stillroom.errors import NotPossible

SECONDS, TOLERANCE = 2400, 0.05
LEAST, MOST_LIVE = 10.0, 0.020
RIGS = 8
TIMES = np.arange(SECONDS, dtype=np.float64)


def invented(rng: np.random.Generator) -> tuple[Array, float]:
    """A log and its rig's time constant."""
    tau, r = float(rng.uniform(250.0, 500.0)), float(rng.choice([0.0, 0.3, 0.6, 0.9]))
    noise = lfilter([1.0], [1.0, -r], 0.0335 * np.sqrt(1.0 - r * r) * rng.standard_normal(SECONDS))
    values = 12.0 - 12.0 * (0.8 * np.exp(-TIMES / tau) + 0.2 * np.exp(-8.0 * TIMES / tau)) + noise
    values[rng.integers(0, SECONDS, 3)] += 4.0
    return values, tau


def ours(values: Array, tau: float) -> tuple[float, float, bool]:
    """End, half of its interval, and whether it is steady."""
    series = Running(tolerance=TOLERANCE)
    series.extend(TIMES, values)
    found, steady = series.forecast(), series.steadiness(tau)
    mean_of(values[-int(tau) :])
    return found.final, (found.high - found.low) / 2.0, steady.is_steady


def notebook(values: Array, tau: float) -> tuple[float, float, bool]:
    """The same with pandas and statsmodels."""
    import pandas as pd
    import statsmodels.api as sm
    from statsmodels.tsa.stattools import acf

    series = pd.Series(values, index=TIMES)
    off = (series - series.rolling(15, center=True, min_periods=1).median()).abs()
    clean = series[off < 0.15 + 6.0 * 1.4826 * off.rolling(15, center=True, min_periods=1).median()]

    def bound(moment: float) -> float:
        window = clean[(clean.index > moment - 3.0 * tau) & (clean.index <= moment)]
        x = (window.index.to_numpy() - moment) / tau
        columns = np.column_stack([np.ones_like(x), x, np.expm1(-x) + x])
        fits = [sm.GLSAR(window.to_numpy(), columns[:, :many], 1).iterative_fit(3) for many in (2, 3)]
        return min(abs(fit.params[1]) + 1.96 * fit.bse[1] for fit in fits)

    steady, moment = False, TIMES[-1]
    while moment >= 3.0 * tau and bound(moment) < TOLERANCE:
        steady, moment = True, moment - 0.25 * tau
    x, y = clean.index.to_numpy(), clean.to_numpy()

    def fitted(log_tau: float) -> object:
        modes = [np.exp(-faster * x / np.exp(log_tau)) for faster in (1.0, 4.0, 8.0, 16.0)]
        return sm.GLSAR(y, np.column_stack([np.ones_like(x), *modes]), 1).iterative_fit(3)

    best = minimize_scalar(lambda each: fitted(each).ssr, bounds=(4.5, 7.0), method="bounded")
    end = fitted(best.x)
    tail = clean[clean.index > TIMES[-1] - tau].to_numpy()
    tail.mean(), tail.std(), acf(tail, nlags=1, fft=True)
    return float(end.params[0]), 1.96 * float(end.bse[0]), steady


def live(rng: np.random.Generator) -> float:
    """Seconds for one more reading of each of eight rigs, the median of many."""
    rigs = []
    for _ in range(RIGS):
        values, tau = invented(rng)
        running = Running()
        running.extend(TIMES[:1800], values[:1800])
        rigs.append((running, values, tau))
    taken = []
    for at in range(1800, 1900):
        began = time.process_time()
        for running, values, tau in rigs:
            running.add(float(TIMES[at]), float(values[at]))
            with contextlib.suppress(NotPossible):
                running.forecast()
            running.steadiness(tau)
        taken.append(time.process_time() - began)
    return float(np.median(taken))


def main(words: list[str]) -> int:
    warnings.simplefilter("ignore")
    quick = "--quick" in words
    count, theirs = (200, 5) if quick else (1000, 20)
    rng = np.random.default_rng(7)
    logs = [invented(rng) for _ in range(count)]
    ours(*logs[0])
    notebook(*logs[0])
    began = time.process_time()
    mine = [ours(*each) for each in logs]
    our_seconds = time.process_time() - began
    began = time.process_time()
    other = [notebook(*each) for each in logs[:theirs]]
    their_seconds = (time.process_time() - began) / theirs * count
    ratio, one = their_seconds / our_seconds, live(rng)
    held = np.mean([abs(end - 12.0) <= half for end, half, _ in mine])
    their_held = np.mean([abs(end - 12.0) <= half for end, half, _ in other])
    print(f"{count} logs of 40 minutes at 1 Hz: steady or not and since when, end with interval, mean")
    print(f"  ours      {our_seconds:8.2f} s   end held in {100 * held:.0f} %")
    print(
        f"  notebook  {their_seconds:8.2f} s   end held in {100 * their_held:.0f} % (timed on {theirs}, scaled)"
    )
    print(f"  ratio     {ratio:8.1f}     (aim: at least {LEAST:g})")
    print(f"live: one more reading of {RIGS} rigs {1e3 * one:.1f} ms (aim: under {1e3 * MOST_LIVE:g} ms)")
    return 0 if ratio >= LEAST and one < MOST_LIVE else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
