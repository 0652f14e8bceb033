"""Limits at the ends of what was heard, on straight lines in closed form: bounds, and speeds short of full speed."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.sound.limit import LimitRule, LimitSpeed, Reached, limit_speed

SPEEDS = np.linspace(10.0, 30.0, 201)
LEVELS = 20.0 + (SPEEDS - 10.0)  # 20 to 40 dB, 1 dB for each 1/s
RULES = list(LimitRule)


def at(limit: float, rule: LimitRule, *, floor: float = 0.0, full: bool = True) -> LimitSpeed:
    rows = np.maximum(LEVELS, floor)[None, :] + np.array([[0.0], [0.5], [0.4], [-0.4]])
    return limit_speed(rows, SPEEDS, limit, rule, bound=floor > LEVELS, sources=1, reaches_full=full)


@pytest.mark.parametrize("rule", RULES)
def test_under_the_limit_short_of_full_speed_is_at_least_that_and_no_topping_out(rule: LimitRule) -> None:
    whole, short = at(45.0, rule), at(45.0, rule, full=False)
    assert (whole.reached, whole.at_least, whole.falls_short) == (Reached.TOPS_OUT, False, False)
    assert (short.reached, short.at_least, short.falls_short) == (Reached.AT_LIMIT, True, True)
    assert not short.tops_out.any()
    assert short.speeds[0] == SPEEDS[-1]
    # at a limit that it meets below, nothing changes
    assert at(30.0, rule, full=False).speeds == pytest.approx(at(30.0, rule).speeds)
    assert not at(30.0, rule, full=False).at_least


@pytest.mark.parametrize("rule", RULES)
def test_a_bound_over_the_limit_never_says_too_loud_without_a_doubt(rule: LimitRule) -> None:
    found = at(25.0, rule, floor=27.0)
    assert (found.reached, found.at_least, found.bottom_is_bound) == (Reached.NOT_SO_QUIET, True, True)
    assert found.level_at_bottom == 27.0
    loud = at(15.0, rule)
    assert (loud.reached, loud.at_least, loud.bottom_is_bound) == (Reached.NOT_SO_QUIET, False, False)


def test_topping_out_on_bounds_is_told_as_a_bound() -> None:
    found = at(50.0, LimitRule.HIGHEST, floor=45.0)
    assert (found.reached, found.top_is_bound, found.at_least) == (Reached.TOPS_OUT, True, False)
