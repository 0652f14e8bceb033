"""What names say was recorded, and frequencies as tables write them."""

from __future__ import annotations

import pytest

from stillroom.errors import BadInput
from stillroom.readers.paths.names import SETTINGS, Pattern
from stillroom.readers.words.bands import (
    are_even,
    are_third_octaves,
    band_header,
    bands_in,
    hertz,
    third_octave,
)
from stillroom.readers.words.recordings import Recorded, recorded, recorded_in, recorded_in_name

NAMES = {
    "fan-07_s1_ramp-up": ("ramp up", "fan-07_s1", None),
    "ramp_down": ("ramp down", "", None),
    "ramp": ("ramp", "", None),
    "Rampe auf": ("ramp up", "", None),
    "bg": ("background", "", None),
    "bg2": ("background", "", None),
    "bg-before": ("background before", "", None),
    "fan-07_s1_background_after": ("background after", "fan-07_s1", None),
    "bruit-de-fond-avant": ("background before", "", None),
    "Hintergrund_nachher": ("background after", "", None),
    "cal94": ("calibrator", "", 94.0),
    "cal_114_before": ("calibrator before", "", 114.0),
    "Kalibrierung 94 dB": ("calibrator", "", 94.0),
    "dwell_60pct": ("dwell", "60pct", None),
    "fan-07_s1_dwell_1200rpm": ("dwell", "fan-07_s1_1200rpm", None),
}


@pytest.mark.parametrize("name", NAMES)
def test_a_name_says_what_was_recorded(name: str) -> None:
    found = recorded_in_name(name)
    assert found is not None
    assert (found.words, found.rest, found.level) == NAMES[name]


@pytest.mark.parametrize(
    "name", ["60pct", "fan-07_s1", "Calluna_s1", "before", "94", "cal_bg", "bg_before_after", ""]
)
def test_a_name_that_says_nothing_of_it_or_two_things(name: str) -> None:
    assert recorded_in_name(name) is None


@pytest.mark.parametrize("each", Recorded)
def test_the_words_of_each_are_its_own(each: Recorded) -> None:
    assert recorded_in(each.value) is each
    assert recorded_in(each.value.upper().replace(" ", "-")) is each
    assert [each.is_background, each.is_calibrator, each.is_of_fan].count(True) == 1
    assert not each.is_ramp or each.is_of_fan


@pytest.mark.parametrize("words", ["ramp", "fan-07", "before", "bg and fan", ""])
def test_what_says_none_of_it_is_refused(words: str) -> None:
    with pytest.raises(BadInput, match="ramp up"):
        recorded(words, "runs.csv, line 2")


# Nominal midband frequencies of IEC 61260-1:2014, Annex E, 25 Hz to 20 kHz (from memory).
NOMINAL = (25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500,
           3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000)  # fmt: skip


def test_nominal_frequencies_are_bands_one_after_the_other() -> None:
    assert [third_octave(each) for each in NOMINAL] == list(range(-16, 14))
    assert are_third_octaves(NOMINAL)
    assert not are_third_octaves([63, 125, 250, 500, 1000]), "octaves"
    assert not are_third_octaves([100, 125, 125, 160])
    assert not are_third_octaves([100, 103, 106])
    assert [third_octave(each) for each in (0, -1, 45, 1e9)] == [None] * 4
    assert are_even([0.0, 1.46, 2.93, 4.39, 5.86, 7.32])
    assert not are_even(NOMINAL)


@pytest.mark.parametrize(
    ("cell", "frequency", "unit"),
    [
        ("31.5", 31.5, ""), ("31,5 Hz", 31.5, ""), ("1k", 1000, ""), ("1.25 kHz", 1250, ""), ("25Hz", 25, ""),
        ("LZeq 25 Hz", 25, "dBZ"), ("LAeq 1 kHz", 1000, "dBA"), ("25 Hz [dB]", 25, "dB"),
        ("Leq 20k (dB(A))", 20000, "dB(A)"), ("L 100 Hz, dB", 100, "dB"),
    ],
)  # fmt: skip
def test_headers_of_bands(cell: str, frequency: float, unit: str) -> None:
    found = band_header(cell)
    assert found is not None
    assert (found.frequency, found.unit) == (frequency, unit)


def test_headers_that_name_no_band() -> None:
    assert [band_header(each) for each in ("speed", "45 Hz", "flow 100", "", "fan-25", "25 Pa")] == [None] * 6
    assert bands_in(["t", "100", "125", "160", "200"]) == {}, "too few to be sure"
    assert bands_in(["25", "50", "100", "200", "400", "800"]) == {}, "not side by side"
    assert list(bands_in(["fan", *map(str, NOMINAL)])) == list(range(1, 31))


def test_cells_of_frequencies() -> None:
    assert [hertz(each) for each in ("1k", "1,25 kHz", "31.5 Hz", "63", "x")] == [
        "1000.0",
        "1250.0",
        "31.5",
        "63",
        "x",
    ]


def test_a_pattern_without_its_setting() -> None:
    def without(text: str, *more: str) -> str:
        shorter = Pattern(text).without(SETTINGS | set(more))
        return shorter.text if shorter else ""

    assert without("{fan}/s{sample}/{duty}pct") == "{fan}/s{sample}"
    assert without("{fan}_s{sample}_{obstacle}_{duty}pct") == "{fan}_s{sample}_{obstacle}"
    assert without("{fan}_s{sample}_{obstacle}_{duty}pct", "obstacle") == "{fan}_s{sample}"
    assert without("{fan}/{obstacle}/{duty}pct", "obstacle") == "{fan}"
    assert without("{duty}pct") == ""
