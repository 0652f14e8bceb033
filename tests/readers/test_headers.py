"""What a column's header says."""

from __future__ import annotations

import pytest

from stillroom.readers.meaning.understanding import understand
from stillroom.readers.source import Source
from stillroom.readers.words.headers import COMPUTED, quantities_for, split_header, text_column_for
from stillroom.vocabulary import QUANTITIES, unit


@pytest.mark.parametrize(
    ("text", "name", "symbol"),
    [
        ("p_s [Pa]", "p_s", "Pa"),
        ("p_s (Pa)", "p_s", "Pa"),
        ("p_s / Pa", "p_s", "Pa"),
        ("p_s, Pa", "p_s", "Pa"),
        ("p_s in Pa", "p_s", "Pa"),
        ("p_s Pa", "p_s", "Pa"),
        ("p_s_Pa", "p_s", "Pa"),
        ("Q/m³/h", "Q", "m³/h"),
        ("flow l/s", "flow", "l/s"),
        ("pressure mm H2O", "pressure", "mm H2O"),
        ("Temperature (dry bulb) [°C]", "Temperature (dry bulb)", "°C"),
        ("flow [furlong]", "flow", "furlong"),
        ("flow (furlong)", "flow", "furlong"),
        ("rpm", "rpm", "rpm"),
        ("CFM", "CFM", "CFM"),
        ("p_s", "p_s", ""),
        ("t_d", "t_d", ""),
        ("t_s", "t", "s"),
        ("T_F", "T", "F"),
        ("t_f", "t_f", ""),
        ("fan (best)", "fan (best)", ""),
        ("size [mm]", "size", "mm"),
        ("PWM %", "PWM", "%"),
        ("PWM 1", "PWM 1", ""),
        ("Fan [rpm]", "speed", "rpm"),
        ("Lüfter (1/min)", "speed", "1/min"),
        ("Fan rpm", "speed", "rpm"),
        ("fan [V]", "voltage", "V"),
        ("Fan A", "Fan A", ""),
        ("fan", "fan", ""),
        ("", "", ""),
    ],
)
def test_a_header_is_taken_apart(text: str, name: str, symbol: str) -> None:
    header = split_header(text)
    assert (header.name, header.unit) == (name, symbol)


@pytest.mark.parametrize(
    ("name", "dimension", "first"),
    [
        ("p_b", "pressure", "barometric_pressure"),
        ("Δp_n", "pressure", "nozzle_pressure"),
        ("Δp", "pressure", "nozzle_pressure"),
        ("t", "temperature", "temperature"),
        ("t", "time", "time"),
        ("P", "power", "power"),
        ("P", "pressure", "static_pressure"),
        ("h_u", "ratio", "relative_humidity"),
        ("Drehzahl", "speed", "speed"),
    ],
)
def test_a_symbol_is_settled_by_its_unit(name: str, dimension: str, first: str) -> None:
    assert quantities_for(name, dimension)[0].name == first


def test_every_quantity_that_is_read_is_known_by_its_name_and_symbol() -> None:
    for quantity in QUANTITIES:
        if quantity.name in COMPUTED:
            assert not quantities_for(quantity.name)
            continue
        dimension = unit(quantity.unit).dimension
        for word in (quantity.name, quantity.symbol, *quantity.aliases):
            assert quantity in quantities_for(word, dimension), word


def test_text_columns() -> None:
    words = ("Nozzles", "#", "No.", "Time", "flow")
    assert [text_column_for(word) for word in words] == ["nozzles", "point", "point", "time", ""]


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        ("nozzles,dp [Pa],p_s [Pa]", "nozzle_pressure"),
        ("flow [m3/h],dp [Pa]", "resistance_pressure"),
        ("nozzles,dp nozzle [Pa],dp [Pa]", "resistance_pressure"),
        ("nozzles,dp [Pa],pressure drop [Pa]", "nozzle_pressure"),
    ],
)
def test_a_bare_difference_of_pressure_is_settled_by_the_other_columns(header: str, expected: str) -> None:
    data = header + "\n" + ",".join(["1"] * (header.count(",") + 1)) + "\n"
    columns = understand(Source("a.csv", data.encode())).blocks[0].layout.columns
    assert next(each.quantity for each in columns if each.header == "dp [Pa]") == expected
