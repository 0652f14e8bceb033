"""Tests of the control as benches export them: tables of steps, logs, start attempts, a start's current."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stillroom.errors import BadInput
from stillroom.readers.meaning.understanding import understand
from stillroom.readers.reading.recording import Recording, read
from stillroom.readers.source import Source
from stillroom.readers.words.control import is_open, starts_in, yes_or_no
from stillroom.readers.words.kinds import Kind, kind_of, may_be_control


def read_text(text: str) -> Recording:
    source = Source("test.csv", text.encode())
    (block,) = understand(source).blocks
    found = read(source, block.layout)
    assert found.kind is block.kind
    return found


STEPS = """PWM [%];Drehzahl [rpm];Richtung;PWM Frequenz [kHz];U [V]
100;1998;ab;25;12,0
60;1240;ab;25;12,0
20;430;ab;25;12,0
10;0;ab;25;12,0
20;0;auf;25;12,0
30;640;auf;25;12,0
100;1997;auf;25;12,0
offen;2001;;;12,0
"""


def test_a_table_of_steps_with_an_open_wire_as_its_last_row() -> None:
    found = read_text(STEPS)
    assert found.kind is Kind.CONTROL_STEPS
    assert found.columns["duty"][:4].tolist() == [1.0, 0.6, 0.2, 0.1]
    assert math.isnan(found.columns["duty"][-1])
    assert found.columns["speed"][-1] == pytest.approx(2001 / 60)
    assert found.raw(7, "duty").text == "offen"
    assert found.columns["pwm_frequency"][0] == 25e3


def test_direct_voltage_steps_in_french() -> None:
    found = read_text(
        "Tension [V],Vitesse [tr/min]\n12,1800\n9,1390\n7,1050\n5,690\n3,0\n5,0\n7,1048\n12,1800\n"
    )
    assert found.kind is Kind.CONTROL_STEPS
    assert found.columns["voltage"].tolist() == [12, 9, 7, 5, 3, 5, 7, 12]


def test_start_attempts_with_words_and_with_counts() -> None:
    found = read_text(
        "attempt,duty [%],started,rest time [s],cold,speed reached [rpm],peak current [A]\n"
        "1,20,yes,30,yes,430,0.61\n2,20,no,30,yes,,0.2\n3,25,10 of 10,30,no,520,0.6\n"
    )
    assert found.kind is Kind.START_TESTS
    assert found.texts["started"] == ("yes", "no", "10 of 10")
    assert found.columns["rest_time"].tolist() == [30, 30, 30]
    assert math.isnan(found.columns["reached_speed"][1])
    assert found.columns["peak_current"].tolist() == [0.61, 0.2, 0.6]


def log(
    dwell: float, step: float, duties: list[int], head: str = "Time;duty [%];speed [rpm]", times: float = 20
) -> str:
    lines, t = [head], 0.0
    for duty in duties:
        for _ in range(int(dwell / step)):
            hours, rest = divmod(int(t), 3600)
            lines.append(
                f"2026-11-20 {10 + hours:02d}:{rest // 60:02d}:{rest % 60:02d};{duty};{times * duty:g}"
            )
            t += step
    return "\n".join(lines) + "\n"


def test_counts_of_attempts_are_not_parted_at_their_blanks() -> None:
    found = read_text("duty [%],started\n20,no\n20,yes\n25,10 of 10\n")
    assert found.texts["started"] == ("no", "yes", "10 of 10")
    assert found.columns["duty"].tolist() == [0.2, 0.2, 0.25]


def test_a_slow_staircase_that_was_logged_is_a_test_of_the_control() -> None:
    found = read_text(log(20, 1, [100, 80, 60, 40, 20, 40, 60, 80, 100]))
    assert found.kind is Kind.CONTROL_STEPS
    assert found.columns["time"][-1] == 179.0


def test_the_drive_of_a_heat_run_is_none() -> None:
    assert read_text(log(1200, 10, [100, 70, 50, 30])).kind is Kind.HEAT_LOG


def test_a_log_of_a_heat_rig_stays_one_however_its_duty_moves() -> None:
    text = log(20, 1, [100, 80, 60, 40, 20, 40, 60], "Time;duty [%];hot temperature [degC]", 0.5)
    assert read_text(text).kind is Kind.HEAT_LOG


def test_a_fast_record_of_a_current_is_that_of_a_start() -> None:
    rows = "\n".join(f"{2 * k},{0.12 + 1.4 * math.exp(-k / 40):.3f}" for k in range(300))
    found = read_text(f"t [ms],I [A]\n{rows}\n")
    assert found.kind is Kind.INRUSH
    assert found.columns["time"][1] == pytest.approx(0.002)


def test_a_slow_record_of_a_current_is_a_channel_beside_a_heat_run() -> None:
    rows = "\n".join(f"{2 * k},{0.12 + 0.001 * k:.3f}" for k in range(300))
    assert read_text(f"t [s],I [A]\n{rows}\n").kind is Kind.HEAT_LOG


@pytest.mark.parametrize(
    ("columns", "kind"),
    [
        (("duty", "speed", "sound_level"), Kind.SOUND_SHEET),
        (("voltage", "speed", "sound_level", "time"), Kind.LEVEL_SERIES),
        (("duty", "speed", "flow", "static_pressure", "voltage", "current"), Kind.FLOW_AND_PRESSURE),
        (("duty", "speed", "flow", "resistance_pressure"), Kind.OBSTACLE),
        (("duty", "speed", "time", "hot_temperature"), Kind.HEAT_LOG),
        (("duty", "speed", "current"), Kind.CONTROL_STEPS),
        (("voltage", "started", "speed"), Kind.START_TESTS),
    ],
)
def test_what_comes_before_a_test_of_the_control(columns: tuple[str, ...], kind: Kind) -> None:
    assert kind_of(columns, "test") is kind
    assert may_be_control(columns) is kind.is_control


def test_columns_of_control_are_left_out_of_airflow() -> None:
    """Nothing asks for the unit of a column that a chamber's export has by chance."""
    found = read_text("flow [m3/h],ps [Pa],Pause,max current\n10,20,5,1\n20,10,5,1\n30,5,5,1\n")
    assert found.kind is Kind.FLOW_AND_PRESSURE
    assert "rest_time" not in found.columns


@pytest.mark.parametrize("cell", ["open", "Offen", " ouvert ", "not connected", "non branché"])
def test_words_for_an_open_wire(cell: str) -> None:
    assert is_open(cell)


def test_no_number_is_an_open_wire() -> None:
    assert not any(map(is_open, ("", "0", "-", "12")))


@pytest.mark.parametrize(
    ("cell", "attempts", "expected"),
    [
        ("yes", "", (1, 1)),
        ("ja", "", (1, 1)),
        ("non", "", (0, 1)),
        ("10 of 10", "", (10, 10)),
        ("9/10", "", (9, 10)),
        ("8 von 10", "", (8, 10)),
        ("9", "10", (9, 10)),
        ("1", "", (1, 1)),
        ("no", "5", (0, 5)),
    ],
)
def test_attempts_in_words(cell: str, attempts: str, expected: tuple[int, int]) -> None:
    assert starts_in(cell, attempts, "test") == expected


@pytest.mark.parametrize(
    ("cell", "attempts"), [("perhaps", ""), ("11 of 10", ""), ("0 of 0", ""), ("", "10")]
)
def test_attempts_that_say_nothing_are_refused(cell: str, attempts: str) -> None:
    with pytest.raises(BadInput):
        starts_in(cell, attempts, "test")


def test_yes_and_no() -> None:
    assert [yes_or_no(each) for each in ("Oui", "x", "nein", "steht", "", "maybe")] == [
        True, True, False, False, None, None,
    ]  # fmt: skip


def test_steps_without_a_speed_stay_without_one() -> None:
    found = read_text("duty [%],speed [rpm]\n100,2000\n60,-\n20,400\n")
    assert np.isnan(found.columns["speed"]).tolist() == [False, True, False]
