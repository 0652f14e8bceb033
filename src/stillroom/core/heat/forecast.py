"""Where a run will end: y∞ + A exp(−t/τ) with correlated errors, its interval, and the minutes to go."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class TimeConstant:
    """What is known of a rig's time constant before the run.

    Parameters
    ----------
    tau, u : time constant and its standard uncertainty [s].
    """

    tau: float
    u: float


@dataclass(frozen=True)
class Forecast:
    """Where a series will end.

    Parameters
    ----------
    final, u, low, high : value at the end of time, standard uncertainty, and 95 % interval [K].
    tau, u_tau : time constant and its standard uncertainty [s].
    amplitude : start minus end, extrapolated to the start of the series [K].
    r : correlation between readings one second apart.
    sd : standard deviation of one reading about the curve [K].
    start, end : of the series [s].
    wait : from the end of the series until what remains is within the tolerance [s]; 0.0 when it is.
    span : length of the series over the time constant.
    """

    final: float
    u: float
    low: float
    high: float
    tau: float
    u_tau: float
    amplitude: float
    r: float
    sd: float
    start: float
    end: float
    wait: float
    span: float

    def at(self, times: Array) -> tuple[Array, Array, Array]:
        """Central curve, low and high at some moments [s, K]."""
        raise NotImplementedError


def forecast(
    times: Array, values: Array, *, known: TimeConstant | None = None, tolerance: float = 0.05
) -> Forecast:
    """Where a series will end."""
    raise NotImplementedError
