"""What a file of rigs tells of a heat rig, and what a run table and a table of steps tell of its runs."""

from __future__ import annotations

import pytest

from stillroom.errors import StillroomError
from stillroom.lab.intake.batch import File
from stillroom.lab.intake.telling import records_of_rigs, records_of_table, table_kinds
from stillroom.readers.registers.tables import table_kind
from stillroom.readers.source import Source
from stillroom.records.acts import Run, Step
from stillroom.records.bench import Rig

RIG = """
[rig.heat-1]
kind = "heat"
heater_power = "watts-1"
hot_temperature = "tc-hot"
air_in_temperature_8 = "tc-8"
nominal_power = "300 W"
radiator = "rad27"
fans = 2
coolant = "Glycol 30%"
coolant_flow = "1.5 l/min"
pump_power = "6 W"
tau = "6 min"
watch = "loggers/*.csv"
"""


def file(name: str, text: str) -> File:
    return File(name, Source(name, text.encode()), alone=True)


def test_a_heat_rig_is_read_in_si() -> None:
    ((rig, _, _),) = records_of_rigs(file("rigs.toml", RIG))
    assert isinstance(rig, Rig)
    assert (rig.purpose, rig.radiator, rig.fans, rig.coolant, rig.watch) == (
        "heat",
        "rad27",
        2,
        "glycol 30 %",
        "loggers/*.csv",
    )
    assert (rig.nominal_power, rig.pump_power, rig.tau) == (300.0, 6.0, 360.0)
    assert rig.coolant_flow == pytest.approx(1.5e-3 / 60)
    assert rig.roles == {
        "heater_power": "watts-1",
        "hot_temperature": "tc-hot",
        "air_in_temperature_8": "tc-8",
    }


def test_a_heat_rig_needs_no_instruments() -> None:
    ((rig, _, _),) = records_of_rigs(file("rigs.toml", '[rig.heat-1]\nkind = "heat"\n'))
    assert rig.roles is None


@pytest.mark.parametrize(
    "line",
    [
        "nominal_power = 300",
        'nominal_power = "300 V"',
        'nominal_power = "0 W"',
        'nominal_power = "300 kW"',
        "fans = 0",
        "fans = 2.0",
        "fans = true",
        'coolant = "glycol"',
        'coolant = "glycol 70 %"',
        'coolant = "oil"',
        'coolant_flow = "1.5 m"',
        'tau = "1 s"',
        'air_in_temperature_9 = "tc-9"',
    ],
)
def test_a_heat_rig_that_cannot_be_is_refused(line: str) -> None:
    with pytest.raises(StillroomError) as caught:
        records_of_rigs(file("rigs.toml", f'[rig.heat-1]\nkind = "heat"\n{line}\n'))
    assert "rig.heat-1" in caught.value.place


def test_a_run_table_tells_of_loggers() -> None:
    text = (
        "file,fan,sample,session,logger,clock offset [s],coolant filled,what\n"
        "a/temps.csv,Sedge,s1,day-3,TL-8,-60,2026-03-01,\n"
        "bath.csv,,,,TL-8,,,bath\n"
    )
    found, left_out = records_of_table(file("runs.csv", text), Run, table_kinds())
    first, second = (each for each, _, _ in found)
    assert (first.logger, first.clock_offset, first.coolant_filled) == ("TL-8", -60.0, "2026-03-01")
    assert (second.what, second.clock_offset) == ("bath", None)
    assert left_out == ()


STEPS = "mounting,step,from,to,duty [%],noise [dBA]\nm1,1,0,15,40,25\nm1,2,09:31:00,09:52,60,30\n"


def test_a_table_of_steps() -> None:
    source = file("steps.csv", STEPS)
    assert table_kind(source.source, table_kinds()) == "step"
    found, _ = records_of_table(source, Step, table_kinds())
    first, second = (each for each, _, _ in found)
    assert (first.mounting, first.step, first.start, first.stop, first.duty, first.noise) == (
        "m1",
        1,
        "0",
        "15",
        0.4,
        25.0,
    )
    assert (second.start, second.stop) == ("09:31:00", "09:52")
    assert (first.name, second.name) == ("m1/1", "m1/2")


def test_a_step_of_nobody_is_no_table_of_steps() -> None:
    assert table_kind(Source("steps.csv", b"step,duty [%],speed [rpm]\n1,40,900\n"), table_kinds()) == ""


def test_a_measurement_with_steps_is_no_table_of_steps() -> None:
    text = b"time,step,mounting,hot [degC],air in [degC]\n09:00:00,1,m1,35.0,22.0\n"
    assert table_kind(Source("log.csv", text), table_kinds()) == ""
