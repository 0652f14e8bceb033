"""Tests of the control that can't be read as they stand."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from stillroom.core.control.control_mounting import Behaviour
from stillroom.core.control.inrush import inrush_of
from stillroom.core.control.response import behaviour, legs
from stillroom.errors import BadInput, NotPossible
from stillroom.readers.meaning.understanding import understand
from stillroom.readers.reading.recording import read
from stillroom.readers.source import Source
from stillroom.readers.words.kinds import Kind

HEAD = "time,duty [%],speed [rpm]"


def rows(count: int = 60) -> list[str]:
    begin = dt.datetime(2026, 11, 20, 14)
    duties = [10 * (i // 6) for i in range(count)]
    return [
        f"{begin + dt.timedelta(seconds=5 * i)},{each},{400 + 12 * each}" for i, each in enumerate(duties)
    ]


def read_text(lines: list[str]) -> Kind:
    source = Source("response.csv", "\n".join([HEAD, *lines]).encode())
    (block,) = understand(source, {}).blocks
    return read(source, block.layout).kind


def test_a_staircase_in_its_order_is_read() -> None:
    assert read_text(rows()) is Kind.CONTROL_STEPS


def test_a_staircase_with_its_newest_row_first_is_refused() -> None:
    with pytest.raises(BadInput, match="before that of the row above") as caught:
        read_text(rows()[::-1])
    assert caught.value.place == "response.csv, line 3"


def test_a_start_of_which_the_meter_lost_the_peak_has_no_inrush() -> None:
    times = np.arange(200) * 0.002
    currents = 0.1 + 0.4 * np.exp(-times / 0.02)
    assert inrush_of(times, currents).peak == pytest.approx(0.5)
    currents[:5] = np.nan
    with pytest.raises(NotPossible, match="5 readings without a value"):
        inrush_of(times, currents)


def test_a_fan_that_was_never_seen_to_turn_does_not_go_to_full_speed() -> None:
    several = legs(np.array([1.0, 0.5, 0.1]), np.zeros(3), np.zeros(3))
    assert behaviour(several, 0.0, goes_full=True) is None
    assert behaviour(several, 30.0, goes_full=True) is Behaviour.FULL_AT_ZERO
