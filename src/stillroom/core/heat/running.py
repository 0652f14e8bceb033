"""Steadiness and forecast of a run that is still growing, kept up to date reading by reading."""

from __future__ import annotations

from stillroom.core.heat.forecast import Forecast, TimeConstant
from stillroom.core.heat.steady import Steadiness


class Running:
    """A series that grows by one reading at a time.

    Parameters
    ----------
    tolerance : what may still drift where a run is called steady [K].
    known : what is known of the rig's time constant before the run.
    """

    def __init__(self, *, tolerance: float = 0.05, known: TimeConstant | None = None) -> None:
        self.tolerance, self.known = tolerance, known

    def add(self, time: float, value: float) -> None:
        """Take one more reading, at a time [s] later than the last one's."""
        raise NotImplementedError

    def steadiness(self, tau: float) -> Steadiness:
        """As `steady.steadiness` of all readings so far; τ in s."""
        raise NotImplementedError

    def forecast(self) -> Forecast:
        """As `forecast.forecast` of all readings so far."""
        raise NotImplementedError
