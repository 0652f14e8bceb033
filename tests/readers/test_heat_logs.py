"""Logs of the heat rig in the forms that loggers write: the same readings come out of each."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Sequence

import numpy as np
import openpyxl
import pytest
from log_files import BEGIN, STEP, at, rows, truth

from stillroom.errors import BadInput, StillroomError, UnreadableFile
from stillroom.readers.heat.stamps import Stamped
from stillroom.readers.layout import Layout
from stillroom.readers.meaning.channels import unnamed_channels
from stillroom.readers.meaning.understanding import missing_units, understand
from stillroom.readers.reading.recording import Recording, read
from stillroom.readers.source import Source
from stillroom.readers.words.kinds import Kind

TRUE = truth()
CHANNELS = ("power", "hot", "air", "air_2", "flow", "speed")
ENGLISH = "Heater [W],Hot [°C],Air in 1 [°C],Air in 2 [°C],Water flow [L/min],Fan speed [rpm]"


def taken(data: bytes | str, name: str = "log.csv", **said: str) -> Recording:
    source = Source(name, data if isinstance(data, bytes) else data.encode())
    (block,) = understand(source, said).blocks
    assert block.kind is Kind.HEAT_LOG
    return read(source, block.layout)


def celsius(recording: Recording, name: str) -> np.ndarray:
    return recording.columns[name] - 273.15


def holds_the_truth(recording: Recording, stamped: Stamped, begin: str) -> None:
    log = recording.log
    assert log is not None
    assert (log.stamped, log.begin, log.repeated, log.gaps) == (stamped, begin, 0, ())
    assert (log.rows, log.step) == (len(TRUE.seconds), pytest.approx(STEP))
    assert recording.columns["time"] == pytest.approx(TRUE.seconds, abs=1e-5)
    assert recording.columns["heater_power"] == pytest.approx(TRUE.power)
    assert celsius(recording, "hot_temperature") == pytest.approx(TRUE.hot, abs=1e-9)
    assert celsius(recording, "air_in_temperature") == pytest.approx(TRUE.air, abs=1e-9)
    assert celsius(recording, "air_in_temperature_2") == pytest.approx(TRUE.air_2, abs=1e-9)
    assert recording.columns["liquid_flow"] * 60e3 == pytest.approx(TRUE.flow)
    assert recording.columns["speed"] * 60 == pytest.approx(TRUE.speed)
    assert all(each.missing == 0 for each in log.channels.values())


DATED = "2026-11-26T09:15:03"


def test_iso_times_and_commas() -> None:
    text = f"Time,{ENGLISH}\n" + "\n".join(rows(TRUE, lambda i: str(at(i)), CHANNELS)) + "\n"
    holds_the_truth(taken(text), Stamped.DATED, DATED)


def test_german_with_preamble_units_footer_and_half_seconds() -> None:
    lines = [
        "Datenlogger KL-8;;;;;;",
        "Seriennummer: 00417;;;;;;",
        "Messintervall: 2 s;;;;;;",
        "",
        "Zeit;Heizleistung;Heiß;Zuluft 1;Zuluft 2;Durchfluss;Drehzahl",
        ";W;°C;°C;°C;l/min;1/min",
        *rows(TRUE, lambda i: f"{at(i):%d.%m.%Y %H:%M:%S},0", CHANNELS, ";,"),
        "Mittelwert;299,4;36,1;22,0;22,1;1,502;1200",
        "Ende der Datei",
    ]
    recording = taken(("\r\n".join(lines) + "\r\n").encode("cp1252"), "KL-8.txt")
    holds_the_truth(recording, Stamped.DATED, DATED)
    assert recording.notes["Seriennummer"] == "00417"


def test_american_with_fahrenheit_and_half_days() -> None:
    clock = [
        f"{at(i).month}/{at(i).day}/{at(i).year} {at(i):%I:%M:%S %p}".replace(" 0", " ") for i in range(120)
    ]
    lines = [
        '"Timestamp","Heater Power (W)","Hot Side (F)","Ambient 1 (F)","Ambient 2 (F)","Loop Flow (L/min)","RPM"'
    ]
    for i in range(120):
        hot, air, air_2 = (32 + 1.8 * each[i] for each in (TRUE.hot, TRUE.air, TRUE.air_2))
        lines.append(
            f'"{clock[i]}","{TRUE.power[i]}","{hot:.6f}","{air:.6f}","{air_2:.6f}","{TRUE.flow[i]}","{TRUE.speed[i]:g}"'
        )
    recording = taken("\n".join(lines) + "\n", **{"unit:RPM": "rpm"})
    holds_the_truth(recording, Stamped.DATED, DATED)


def test_date_and_time_in_two_columns_in_utf_16() -> None:
    head = "Date\tTime\t" + ENGLISH.replace(",", "\t")
    body = rows(TRUE, lambda i: f"{at(i):%d/%m/%Y}\t{at(i):%H:%M:%S}", CHANNELS, "\t")
    recording = taken(("\n".join([head, *body]) + "\n").encode("utf-16"), "log.tsv")
    holds_the_truth(recording, Stamped.DATED, DATED)


@pytest.mark.parametrize(
    ("header", "factor", "digits"),
    [
        ("timestamp", 1, 1),
        ("epoch", 1, 3),
        ("Timestamp", 1000, 0),
        ("Time [ms]", 1000, 0),
        ("Time [s]", 1, 2),
    ],
)
def test_seconds_since_1970(header: str, factor: int, digits: int) -> None:
    since = BEGIN.replace(tzinfo=dt.UTC).timestamp()
    body = rows(TRUE, lambda i: f"{(since + 2 * i) * factor:.{digits}f}", CHANNELS)
    holds_the_truth(taken("\n".join([f"{header},{ENGLISH}", *body]) + "\n"), Stamped.EPOCH, DATED)


@pytest.mark.parametrize(
    ("header", "divisor"),
    [
        ("Elapsed [s]", 1.0),
        ("Elapsed time (min)", 60.0),
        ("t [s]", 1.0),
        ("Time [h]", 3600.0),
        ("Laufzeit [min]", 60.0),
    ],
)
def test_time_since_the_start(header: str, divisor: float) -> None:
    body = rows(TRUE, lambda i: f"{2 * i / divisor:.9f}", CHANNELS)
    text = "\n".join(["# Start: 2026-11-26 09:15:03", f"{header},{ENGLISH}", *body]) + "\n"
    holds_the_truth(taken(text), Stamped.ELAPSED, "")


def test_hours_minutes_and_seconds_since_the_start_count_past_a_day() -> None:
    begin = 25 * 3600 - 60

    def clock(i: int) -> str:
        total = begin + 2 * i
        return f"{total // 3600}:{total // 60 % 60:02}:{total % 60:02}"

    text = "\n".join([f"Elapsed,{ENGLISH}", *rows(TRUE, clock, CHANNELS)]) + "\n"
    recording = taken(text)
    assert recording.columns["time"] == pytest.approx(TRUE.seconds)


def test_numbers_without_a_unit_are_asked_for() -> None:
    text = "\n".join([f"Time,{ENGLISH}", *rows(TRUE, lambda i: f"{2 * i}", CHANNELS)]) + "\n"
    (missing,) = missing_units(Source("log.csv", text.encode()))
    assert missing.option == "unit:Time=s"
    with pytest.raises(StillroomError, match="--as 'unit:Time=s'"):
        taken(text)
    holds_the_truth(taken(text, **{"unit:Time": "s"}), Stamped.ELAPSED, "")


def test_a_clock_passes_midnight() -> None:
    late = dt.datetime(2026, 11, 26, 23, 58, 0)
    clock = [late + dt.timedelta(seconds=2 * i) for i in range(120)]
    text = "\n".join(
        [f"Time|{ENGLISH.replace(',', '|')}", *rows(TRUE, lambda i: f"{clock[i]:%H:%M:%S}", CHANNELS, "|")]
    )
    recording = taken(text + "\n")
    holds_the_truth(recording, Stamped.CLOCK, "23:58:00")
    assert recording.log is not None
    assert (recording.log.midnights, recording.log.end) == (1, "00:01:58")


def test_channels_that_only_have_numbers() -> None:
    head = "No.,Date,Time,CH1,CH2,CH3,CH4,CH5,CH6"
    unit_row = ",,,W,degC,degC,degC,l/min,rpm"
    body = [
        f"{i},{line}"
        for i, line in enumerate(rows(TRUE, lambda i: f"{at(i):%Y/%m/%d},{at(i):%H:%M:%S}", CHANNELS))
    ]
    source = Source("log.csv", "\n".join(["Model,QR-6", "Interval,2 s", head, unit_row, *body, ""]).encode())
    with pytest.raises(
        BadInput, match=r"columns that name no quantity: 'CH1', .*column:HEADER=QUANTITY"
    ) as caught:
        understand(source)
    assert caught.value.thing == "columns"
    assert unnamed_channels(source) == {
        "CH1": "power",
        "CH2": "temperature",
        "CH3": "temperature",
        "CH4": "temperature",
        "CH5": "flow",
        "CH6": "speed",
    }
    names = (
        "heater_power",
        "hot_temperature",
        "air_in_temperature",
        "air_in_temperature_2",
        "liquid_flow",
        "speed",
    )
    said = {f"column:CH{number}": name for number, name in enumerate(names, start=1)}
    holds_the_truth(taken(source.content(), **said), Stamped.DATED, DATED)


def test_cells_that_carry_their_unit() -> None:
    body = [
        f"{at(i)},{TRUE.power[i]} W,{TRUE.hot[i]} °C,{TRUE.air[i]} °C,{TRUE.air_2[i]} °C,{TRUE.flow[i]} L/min,"
        f"{TRUE.speed[i]:g} rpm"
        for i in range(120)
    ]
    text = "\n".join(["Time,Heater,Hot,Air in 1,Air in 2,Water flow,Speed", *body]) + "\n"
    holds_the_truth(taken(text), Stamped.DATED, DATED)


def test_columns_parted_by_blanks() -> None:
    head = "time[s] heater_power[W] hot[degC] air_in_1[degC] air_in_2[degC] water_flow[l/min] speed[rpm]"
    text = "\n".join([head, *rows(TRUE, lambda i: f"{2 * i}", CHANNELS, " ")]) + "\n"
    holds_the_truth(taken(text, "log.dat"), Stamped.ELAPSED, "")


def heat_log(*lines: str, head: str = "Time,Hot [°C],Air in [°C]") -> str:
    return "\n".join([head, *lines]) + "\n"


def steps(count: int, step: float = 1.0) -> list[str]:
    return [f"{BEGIN + dt.timedelta(seconds=i * step):%H:%M:%S}" for i in range(count)]


def test_stamps_of_a_second_at_two_readings_a_second_are_spread() -> None:
    stamps = steps(41, 0.5)[1:]  # the first second began before the log
    recording = taken(heat_log(*(f"{each},35.{i % 10},22.0" for i, each in enumerate(stamps))))
    log = recording.log
    assert log is not None
    assert log.repeated == 19
    assert recording.columns["time"] == pytest.approx(0.5 * np.arange(40))
    assert (log.begin, log.step, log.gaps) == ("09:15:03.500", 0.5, ())


def test_a_row_written_twice_moves_only_within_its_second() -> None:
    stamps = steps(30)
    stamps.insert(10, stamps[9])
    recording = taken(heat_log(*(f"{each},35.0,22.0" for each in stamps)))
    times = recording.columns["time"]
    assert recording.log is not None
    assert recording.log.repeated == 1
    assert times[9:12] == pytest.approx([9.0, 9.5, 10.0])
    assert np.all(np.diff(times) > 0)


def test_gaps_are_kept_and_told() -> None:
    lines = [f"{each},35.0,22.0" for i, each in enumerate(steps(100)) if not 40 <= i < 70 and i != 90]
    recording = taken(heat_log(*lines))
    log = recording.log
    assert log is not None
    assert [(each.first, each.last) for each in log.gaps] == [
        (39.0, 70.0)
    ]  # one reading that is missing is no gap
    assert len(recording) == 69


def test_a_clock_that_was_put_right_while_it_ran() -> None:
    stamps = steps(60)
    stamps[30:] = steps(59)[29:]
    recording = taken(heat_log(*(f"{each},35.0,22.0" for each in stamps)))
    assert recording.log is not None
    assert recording.log.slips + recording.log.repeated == 1
    assert np.all(np.diff(recording.columns["time"]) > 0)


@pytest.mark.parametrize("by", [4, 600, 3600])
def test_a_clock_that_goes_back_is_refused_with_the_line(by: int) -> None:
    lines = [f"{BEGIN + dt.timedelta(seconds=i - by * (i >= 50))},35.0,22.0" for i in range(100)]
    with pytest.raises(BadInput) as caught:
        taken(heat_log(*lines))
    assert "line 52" in caught.value.place
    assert "before that of the row above" in caught.value.found


def test_a_zone_is_kept_out_of_the_span() -> None:
    lines = [f"{BEGIN + dt.timedelta(seconds=60 * i):%Y-%m-%dT%H:%M:%S}+01:00,35.0,22.0" for i in range(10)]
    lines += [f"{BEGIN - dt.timedelta(hours=1) + dt.timedelta(seconds=60 * i):%Y-%m-%dT%H:%M:%S}Z,35.0,22.0"
              for i in range(10, 20)]  # fmt: skip
    recording = taken(heat_log(*lines))
    assert recording.columns["time"] == pytest.approx(60.0 * np.arange(20))
    assert recording.log is not None
    assert recording.log.begin == DATED


WORDS = [("", "empty"), ("open", "empty"), ("nan", "empty"), ("---", "empty"), ("OL", "empty"), ("over-range", "empty"),
         ("1372.0", "outside"), ("9999.9", "over"), ("9.9E+37", "over"), ("-999.9", "over"),
         ("999.9", "over")]  # fmt: skip


@pytest.mark.parametrize(("cell", "why"), WORDS)
def test_what_a_logger_writes_without_a_value_is_no_value(cell: str, why: str) -> None:
    clock = steps(50)
    lines = [f"{each},{cell if 20 <= i < 40 else 35.5},22.{i % 10}" for i, each in enumerate(clock)]
    recording = taken(heat_log(*lines))
    assert len(recording) == 50
    assert recording.log is not None
    missing = recording.log.channels["hot_temperature"]
    assert (getattr(missing, why), missing.missing) == (20, 20)
    hot = recording.columns["hot_temperature"]
    assert np.isnan(hot).nonzero()[0].tolist() == list(range(20, 40))
    assert recording.columns["air_in_temperature"] == pytest.approx(
        [22.0 + 0.1 * (i % 10) + 273.15 for i in range(50)]
    )
    assert recording.log.channels["air_in_temperature"].missing == 0


def test_nines_that_are_near_the_others_are_values() -> None:
    head = "Time,Heater voltage [V],RH [%],Hot [°C]"
    lines = [
        f"{each},{100.0 if i % 2 else 99.99},{99.9 if i % 3 else 98.0},35.0"
        for i, each in enumerate(steps(30))
    ]
    recording = taken(heat_log(*lines, head=head))
    assert all(np.all(np.isfinite(values)) for values in recording.columns.values())


def test_a_few_spikes_are_counted_and_a_wrong_unit_is_refused() -> None:
    clock = steps(400)
    spikes = {7: 812.5, 100: -77.0, 333: 501.0}
    recording = taken(heat_log(*(f"{each},{spikes.get(i, 35.5)},22.0" for i, each in enumerate(clock))))
    assert recording.log is not None
    assert recording.log.channels["hot_temperature"].outside == 3
    with pytest.raises(BadInput) as caught:  # kelvin, called degrees
        taken(heat_log(*(f"{each},{308.0 + i % 7},22.0" for i, each in enumerate(clock))))
    assert caught.value.thing == "column 'Hot [°C]'"
    assert "line 2" in caught.value.place
    assert "--as 'column:Hot [°C]=none'" in caught.value.expected


def test_a_dead_channel_is_left_out_of_the_others() -> None:
    recording = taken(heat_log(*(f"{each},35.5," for each in steps(20))))
    assert "air_in_temperature" not in recording.columns
    recording = taken(heat_log(*(f"{each},35.5,open" for each in steps(20))))
    assert np.all(np.isnan(recording.columns["air_in_temperature"]))


@pytest.mark.parametrize(
    ("lines", "thing"),
    [
        ((), "table"),
        (("09:15:03,35.0,22.0",), "log"),
        (("09:15:03,35.0,22.0",) * 20, "column 'Time'"),
        (("09:15:03,35.0,22.0", "09:15:04,35.0,22.0", "soon,35.0,22.0", "09:15:06,35,22"), "column 'Time'"),
        (("09:15:03,35.0,22.0", "09:15:04,35.0,22.0", "09:15:05,x7,22.0"), "column 'Hot [°C]'"),
        (("09:15:03,35.0,22.0", "09:15:04,35.0", "09:15:05,35.0,22.0"), "line between readings"),
    ],
)
def test_what_is_wrong_is_named(lines: tuple[str, ...], thing: str) -> None:
    with pytest.raises((BadInput, UnreadableFile)) as caught:
        taken(heat_log(*lines))
    assert caught.value.thing == thing
    assert "log.csv" in caught.value.place


def test_volts_and_amps_that_no_fan_can_have_are_the_heaters() -> None:
    head = "Time,Voltage [V],Current [A],Power [W],T hot [°C],Fan current [A],Fan voltage [V]"
    recording = taken(heat_log(*(f"{each},60.1,4.99,299.9,35.0,0.12,12.0" for each in steps(20)), head=head))
    assert set(recording.columns) == {
        *("time", "heater_voltage", "heater_current", "heater_power", "hot_temperature", "current", "voltage")
    }


def test_volts_of_a_fan_stay_the_fans() -> None:
    recording = taken(
        heat_log(
            *(f"{each},12.0,0.12,35.0" for each in steps(20)), head="Time,Voltage [V],Current [A],Hot [°C]"
        )
    )
    assert {"voltage", "current"} <= set(recording.columns)


def test_probes_of_the_air_keep_their_numbers() -> None:
    head = "Time,Hot [°C],Air 0 [°C],Air 1 [°C],T air 4 [°C],Ambient [°C]"
    recording = taken(heat_log(*(f"{each},35.0,20.0,21.0,24.0,25.0" for each in steps(20)), head=head))
    found = {
        name: float(values[0] - 273.15)
        for name, values in recording.columns.items()
        if name.startswith("air_in")
    }
    assert sorted(round(each) for each in found.values()) == [20, 21, 24, 25]
    assert len(found) == 4


def test_flow_and_pressure_of_the_loop_are_no_airflow() -> None:
    head = "Time,Hot [°C],Flow [l/min],Pressure [bar],Barometer [hPa],Noise [dBA]"
    recording = taken(heat_log(*(f"{each},35.0,1.5,1.3,1013.2,31.0" for each in steps(20)), head=head))
    assert set(recording.columns) == {"time", "hot_temperature", "liquid_flow", "barometric_pressure"}


NOT_HEAT = [
    ("time,flow [m3/h],p_s [Pa],T inlet [°C]", "09:15:0{i},5{i},1{i},22.0", Kind.FLOW_AND_PRESSURE),
    (
        "time,flow [m3/h],p_s [Pa],Ambient [°C],T hot [°C]",
        "09:15:0{i},5{i},1{i},22.0,30.0",
        Kind.FLOW_AND_PRESSURE,
    ),
    ("flow [m3/h],p_s [Pa],T hot [°C]", "5{i},1{i},30.0", Kind.FLOW_AND_PRESSURE),
    ("nozzles,dp [Pa],p_s [Pa],time,T hot [°C]", "N12,5{i},1{i},09:15:0{i},30.0", Kind.NOZZLE_READINGS),
    ("time,level [dBA],T air [°C]", "09:15:0{i},3{i},22.0", Kind.LEVEL_SERIES),
    ("time,level [dBA],temperature [°C],RH [%]", "09:15:0{i},3{i},22.0,45", Kind.LEVEL_SERIES),
    ("speed [rpm],level [dBA],T hot [°C]", "9{i}0,3{i},22.0", Kind.SOUND_SHEET),
    ("duty [%],speed [rpm]", "{i}0,9{i}0", Kind.CONTROL_STEPS),
    ("time,temperature [°C],RH [%],pressure [hPa]", "09:15:0{i},22.0,45,1013", Kind.HEAT_LOG),
    ("time,speed [rpm]", "09:15:0{i},90{i}", Kind.HEAT_LOG),
]


@pytest.mark.parametrize(("head", "line", "kind"), NOT_HEAT)
def test_each_kind_stays_what_it_is(head: str, line: str, kind: Kind) -> None:
    text = heat_log(*(line.format(i=i) for i in range(2, 9)), head=head)
    (block,) = understand(Source("a.csv", text.encode())).blocks
    assert (block.kind, read(Source("a.csv", text.encode()), block.layout).kind) == (kind, kind)


def test_the_air_of_the_room_beside_a_sheet_of_levels_is_passed_over() -> None:
    text = (
        "speed [rpm],level [dBA]\n900,30.1\n1000,31.2\n1100,33.0\n\n"
        "time,temperature [°C],RH [%]\n09:15:00,22.0,45\n09:16:00,22.1,45\n09:17:00,22.0,45\n"
    )
    seen = understand(Source("a.csv", text.encode()))
    assert [each.kind for each in seen.blocks] == [Kind.SOUND_SHEET]
    assert len(seen.passed_over) == 1


def test_a_long_log_is_read_in_blocks_and_the_same() -> None:
    count = 60_000
    begin = np.datetime64("2026-11-26T09:15:03")
    values = np.round(35.0 + np.sin(np.arange(count) / 500.0), 3)
    lines = [f"{begin + i},{values[i]:.3f},22.000,1.500,300.10,1200,45.00" for i in range(count)]
    head = "Time,Hot [°C],Air in [°C],Water flow [l/min],Heater [W],Speed [rpm],RH [%]"
    text = "\n".join([head, *(each.replace("T", " ") for each in lines)]) + "\n"
    recording = taken(text)
    assert len(recording) == count
    assert celsius(recording, "hot_temperature") == pytest.approx(values)
    assert recording.columns["time"] == pytest.approx(np.arange(count))
    assert (recording.lines[0], recording.lines[-1]) == (2, count + 1)
    assert recording.raw(40_000, "hot_temperature").text == f"{values[40_000]:.3f}"


def test_a_very_long_log_is_averaged_instead_of_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stillroom.readers.heat.gathering.MOST_HELD", 400)
    lines = [f"{i},{35.0 + (i % 4) / 10:.1f},{'' if i == 7 else 22.0}" for i in range(1001)]
    recording = taken(heat_log(*lines, head="Elapsed [s],Hot [°C],Air in [°C]"))
    assert recording.log is not None
    assert (recording.log.averaged, recording.log.rows) == (4, 1001)
    assert len(recording) == 251
    assert celsius(recording, "hot_temperature")[:250] == pytest.approx(35.15)
    assert celsius(recording, "air_in_temperature")[:250] == pytest.approx(22.0)
    assert recording.columns["time"] == pytest.approx(4.0 * np.arange(251))
    assert recording.log.channels["air_in_temperature"].empty == 1


def test_the_drive_of_a_heat_run_is_a_log_and_a_staircase_is_none() -> None:
    slow = [f"{BEGIN + dt.timedelta(seconds=i)},{(30, 45, 60)[i // 400]},{900 + i // 400},{'' if i == 5 else 0.12}"
            for i in range(1200)]  # fmt: skip
    fast = [f"{BEGIN + dt.timedelta(seconds=i)},{10 * (i // 20) + 10},{900 + i},0.12" for i in range(180)]
    head = "Time,Duty [%],Speed [rpm],Fan current [A]"
    recording = taken(heat_log(*slow, head=head))
    assert recording.layout.log
    assert Layout.from_dict(recording.layout.to_dict()) == recording.layout
    assert recording.log is not None
    assert recording.log.begin == DATED
    assert recording.log.channels["current"].empty == 1
    assert recording.columns["time"] == pytest.approx(np.arange(1200.0))
    (block,) = understand(Source("a.csv", heat_log(*fast, head=head).encode())).blocks
    assert (block.kind, block.layout.log) == (Kind.CONTROL_STEPS, False)
    assert "log" not in block.layout.to_dict()


def test_a_workbook_with_times_as_its_cells() -> None:
    table: list[Sequence[object]] = [["Logger", "QR-6"], ["Time", *ENGLISH.split(",")]]
    table += [
        [at(i), *(float(getattr(TRUE, each)[i]) for each in CHANNELS)] for i in range(len(TRUE.seconds))
    ]
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for row in table:
        sheet.append(row)
    data = io.BytesIO()
    book.save(data)
    holds_the_truth(taken(data.getvalue(), "log.xlsx"), Stamped.DATED, DATED)
