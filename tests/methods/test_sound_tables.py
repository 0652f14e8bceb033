"""Tables of levels: what each kind tells, and what it refuses."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.standards.iec_61260_1_2014 import midbands
from stillroom.errors import BadInput
from stillroom.methods.sound.recording import heard_of, heard_parts
from stillroom.methods.sound.tables import Table, heard_in_table

NOMINAL = np.array([
    20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500,
    3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000,
])  # fmt: skip
"""Nominal midbands as they are printed (IEC 61260-1:2014, Table E.1, from memory)."""


def test_a_sheet_tells_a_level_a_row() -> None:
    rows = heard_in_table(
        Table.SHEET,
        {
            "sound_level": np.array([30.0, 25.0]),
            "speed": np.array([25.0, 20.0]),
            "background_level": np.array([15.0, np.nan]),
        },
    )
    assert [each.level for each in rows] == [30.0, 25.0]
    assert [each.speed for each in rows] == [25.0, 20.0]
    assert [each.background for each in rows] == [15.0, None]
    assert all(each.calibrated for each in rows)


def test_a_sheet_without_levels_is_refused() -> None:
    with pytest.raises(BadInput, match="no column of sound level"):
        heard_in_table(Table.SHEET, {"speed": np.array([25.0])})


def test_a_series_is_the_energy_mean_of_its_seconds() -> None:
    levels = np.array([30.0, 30.0, 40.0, 30.0])
    (heard,) = heard_in_table(Table.SERIES, {"time": np.arange(4.0), "sound_level": levels})
    # closed form: 10 lg((3·10³ + 10⁴)/4)
    assert heard.level == pytest.approx(10 * np.log10((3e3 + 1e4) / 4))
    assert heard.duration == pytest.approx(4.0)


def test_levels_of_parts_of_a_second_make_whole_seconds() -> None:
    times, levels = np.arange(0.0, 4.0, 0.125), np.full(32, 33.0)
    (heard,) = heard_in_table(Table.SERIES, {"time": times, "fast_level": levels})
    assert heard.seconds is not None
    assert heard.seconds == pytest.approx(np.full(4, 33.0))
    assert heard.exceeded == {1: 33.0, 10: 33.0, 50: 33.0, 90: 33.0}
    assert heard.fast_max == 33.0


def test_times_that_stand_still_are_refused() -> None:
    with pytest.raises(BadInput, match="rising"):
        heard_in_table(Table.SERIES, {"time": np.zeros(4), "sound_level": np.full(4, 30.0)})


def test_nominal_midbands_fall_into_their_bands_and_one_band_of_1_khz_is_its_level() -> None:
    levels = np.full(31, -20.0)
    levels[17] = 50.0
    (heard,) = heard_in_table(Table.BANDS, {"frequency": NOMINAL, "band_level": levels})
    assert heard.bands == pytest.approx(levels)
    assert heard.level == pytest.approx(50.0, abs=0.01)  # A-weighting at 1 kHz is 0 dB by definition
    assert midbands()[17] == pytest.approx(1000.0)


def test_bands_from_100_hz_leave_the_others_open() -> None:
    (heard,) = heard_in_table(Table.BANDS, {"frequency": NOMINAL[7:28], "band_level": np.full(21, 30.0)})
    assert heard.bands is not None
    assert np.isnan(heard.bands[:7]).all()
    assert np.isfinite(heard.bands[7:28]).all()


def test_octaves_taken_for_thirds_are_no_matter_but_odd_frequencies_are_refused() -> None:
    with pytest.raises(BadInput, match="a band at 1100 Hz"):
        heard_in_table(Table.BANDS, {"frequency": np.array([1000.0, 1100.0]), "band_level": np.full(2, 30.0)})


def test_a_narrow_band_spectrum_sums_to_its_total() -> None:
    f = np.arange(0.0, 6000.0, 2.0)
    (heard,) = heard_in_table(Table.NARROW_BAND, {"frequency": f, "band_level": np.full(len(f), 10.0)})
    assert heard.resolution == pytest.approx(2.0)
    assert heard.z_level == pytest.approx(10.0 + 10.0 * np.log10(len(f) - 1))
    assert heard.bands is not None
    # closed form: a band of width w holds w/2 bins of 10 dB
    width = 1000.0 * (10 ** (0.3 / 6) - 10 ** (-0.3 / 6))
    assert heard.bands[17] == pytest.approx(10.0 + 10.0 * np.log10(width / 2.0), abs=0.05)
    assert np.isnan(heard.bands[-3:]).all()
    assert np.isnan(heard.bands[0]) == (20.0 * (10**0.05 - 10**-0.05) < 4.0)
    with pytest.raises(BadInput, match="not evenly spaced"):
        heard_in_table(
            Table.NARROW_BAND, {"frequency": np.array([10.0, 20.0, 50.0]), "band_level": np.zeros(3)}
        )


def test_what_was_heard_comes_back_as_it_was_kept() -> None:
    times = np.arange(0.0, 4.0, 0.125)
    told = heard_in_table(
        Table.SERIES, {"time": times, "fast_level": np.linspace(20, 30, 32), "speed": np.linspace(10, 30, 32)}
    )
    body, arrays = heard_parts(told)
    (back,) = heard_of(body, arrays)
    assert back.exceeded == told[0].exceeded
    assert back.series is not None
    assert told[0].series is not None
    assert back.series.speeds == pytest.approx(told[0].series.speeds)
    assert back.seconds == pytest.approx(told[0].seconds, abs=1e-5)


@pytest.mark.parametrize(
    ("kept", "words"),
    [
        (slice(11, 20), "bands from 251.2 to 1585 Hz"),
        (slice(7, 26), "bands from 100 to 6310 Hz"),
        (slice(9, 31), "bands from 158.5 to"),
        (slice(17, 18), "bands from 1000 to 1000 Hz"),
    ],
)
def test_bands_of_a_part_of_the_range_make_no_total(kept: slice, words: str) -> None:
    columns = {"frequency": NOMINAL[kept], "band_level": np.full(len(NOMINAL[kept]), 30.0)}
    with pytest.raises(BadInput, match=words):
        heard_in_table(Table.BANDS, columns)
    (heard,) = heard_in_table(Table.BANDS, columns | {"sound_level": np.full(len(NOMINAL[kept]), 41.0)})
    assert heard.level == pytest.approx(41.0)


def test_a_band_that_is_missing_between_others_makes_no_total() -> None:
    f = np.delete(NOMINAL, 15)
    with pytest.raises(BadInput, match="without 631 Hz"):
        heard_in_table(Table.BANDS, {"frequency": f, "band_level": np.full(len(f), 30.0)})
