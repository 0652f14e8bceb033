"""Air that is told above a table: used with its unit, and where it isn't used it is said why."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.readers.meaning.understanding import understand
from stillroom.readers.reading.noted_air import noted_air
from stillroom.readers.reading.recording import read
from stillroom.readers.source import Source

TABLE = (
    "Airflow [m³/h];Static pressure [Pa];Speed [rpm]\n0;40,5;1500\n20;35,1;1500\n40;28,2;1500\n60;15,3;1500\n"
)
NOTES = "Fan: Sedge\nBarometer: 1009,3 hPa\nTemperature: 21,5 °C\nRH: 45 %\n\n"


def test_air_in_notes_is_the_air_of_every_reading() -> None:
    source = Source("a.csv", (NOTES + TABLE).encode())
    (block,) = understand(source).blocks
    recording = read(source, block.layout)
    for quantity, value in {
        "barometric_pressure": 100930.0,
        "temperature": 294.65,
        "relative_humidity": 0.45,
    }.items():
        np.testing.assert_allclose(recording.columns[quantity], np.full(4, value), rtol=1e-12)
    assert any(
        "21.5 °C at every reading, as the note 'Temperature: 21,5 °C' says" in each for each in block.words
    )
    assert not any("not told by the columns" in each for each in block.words)


def test_a_column_comes_before_a_note() -> None:
    table = TABLE.replace("Speed [rpm]\n", "Speed [rpm];Temperature [°C]\n").replace(
        ";1500\n", ";1500;23,5\n"
    )
    source = Source("a.csv", (NOTES + table).encode())
    (block,) = understand(source).blocks
    np.testing.assert_allclose(read(source, block.layout).columns["temperature"], 296.65)


@pytest.mark.parametrize(
    ("key", "text", "why"),
    [
        ("Temperature", "21.5", "states no unit"),
        ("Temperature", "21.5 hPa", "no unit of it"),
        ("Barometer", "1,009 hPa", "decimals or of thousands"),
        ("Barometer", "10.5 hPa", "has to be"),
        ("Temperature", "mild", "no number"),
    ],
)
def test_what_is_not_used_is_said(key: str, text: str, why: str) -> None:
    (found,) = noted_air({key: text}, ())
    assert found.value is None
    assert why in found.words
    assert f"{key}: {text}" in found.words


def test_a_unit_in_the_key_and_notes_that_agree_or_differ() -> None:
    (found,) = noted_air({"Air temperature [°C]": "20.0"}, ())
    assert found.value == pytest.approx(293.15)
    assert [each.value for each in noted_air({"Temp": "20 °C", "Air temperature": "20 °C"}, ())] == [293.15]
    both = noted_air({"Temp": "20 °C", "Air temperature": "22 °C"}, ())
    assert [each.value for each in both] == [None, None]
