"""Free delivery where the last reading lies at it: which trials may end with the curve, and what is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_airflow_measures import Q_MAX, N, parabola

from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_interval
from stillroom.core.mounted import Curve
from stillroom.errors import NotPossible
from stillroom.measures.crossing import ENDS_MARK, at_free_delivery, at_operating_point, flow_at
from stillroom.measures.found import ENDS, Found

SOURCES = ("instrument/nozzle gauge/gain",)


def curve(lost: float, last: float = 0.0, flat: float = 0.05) -> Curve:
    """A curve whose last reading lies at `last` Pa; a share `lost` of its trials levels off above zero."""
    fan = parabola()
    made = fan.curve(N, Part.TOTAL, SOURCES)
    reach = fan.characteristic.reach[1]
    pressure = np.repeat((last - 40.0 * (made.phi / reach - 1.0))[None, :], len(made.pressure), axis=0)
    pressure[2:] += np.linspace(-0.3, 0.3, len(pressure) - 2)[:, None]
    strays = round(lost * (len(pressure) - 2))
    if strays:
        pressure[-strays:] = np.maximum(pressure[-strays:], flat)
    return replace(made, pressure=pressure)


def taken(made: Curve) -> Found:
    return at_free_delivery(flow_at)(made, None, Part.TOTAL, SOURCES)


def test_trials_may_end_with_the_curve_where_it_ends_at_free_delivery() -> None:
    whole, some = taken(curve(0.0)), taken(curve(0.02))
    assert whole.marks == ()
    assert some.marks == (ENDS_MARK,)
    assert some.values[0] == whole.values[0] == pytest.approx(Q_MAX, rel=0.01)
    _, high = coverage_interval(some.values[2:])
    assert high < curve(0.02).flow[0, -1]  # the interval is told by trials that have a root


@pytest.mark.parametrize(("lost", "last"), [(ENDS + 0.005, 0.0), (0.03, 0.4), (0.02, 0.4)])
def test_else_it_is_refused_in_words_for_the_rig(lost: float, last: float) -> None:
    with pytest.raises(NotPossible) as caught:
        taken(curve(lost, last))
    said = caught.value.sentence()
    assert f"its last reading lies at {last:.1f} Pa and in {100 * lost:.0f} % of the trials" in said
    assert "a reading at or below 0 Pa" in said
    assert "rows" not in said


def test_a_curve_that_never_comes_down_is_refused() -> None:
    made = curve(0.0, 20.0)
    with pytest.raises(NotPossible) as caught:
        taken(replace(made, pressure=made.pressure + 20.0))
    assert "lies at 40.0 Pa and the curve doesn't reach it" in caught.value.sentence()


def test_an_operating_point_allows_no_more_strays_than_before() -> None:
    with pytest.raises(NotPossible):
        at_operating_point(flow_at)(curve(0.02), None, Part.TOTAL, SOURCES)
