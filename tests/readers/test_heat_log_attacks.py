"""Heat logs that tell no run, or none that can be: each is refused with what was found, and soon."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from stillroom.errors import StillroomError
from stillroom.readers.heat.stamps import Stamped
from stillroom.readers.meaning.understanding import understand
from stillroom.readers.reading.recording import Recording, read
from stillroom.readers.source import Source

SINCE_1970 = 1_795_165_200


def taken(text: str, **said: str) -> Recording:
    source = Source("log.csv", text.encode())
    (block,) = understand(source, said).blocks
    return read(source, block.layout)


def log_with(time: Callable[[int], str], head: str = "Time [s]", rows: int = 40) -> str:
    lines = [f"{time(i)},{35.0 + 0.01 * i:.2f},22.0,1200,60" for i in range(rows)]
    return "\n".join([f"{head},Hot [°C],Air in [°C],Speed [rpm],Duty [%]", *lines]) + "\n"


def refused(text: str, **said: str) -> StillroomError:
    with pytest.raises(StillroomError) as caught:
        taken(text, **said)
    return caught.value


@pytest.mark.parametrize(
    ("head", "factor"),
    [("Time [s]", 1_000), ("Time [s]", 1_000_000), ("Time [s]", 1_000_000_000), ("Time [ms]", 1)],
)
def test_numbers_from_1970_in_another_unit_than_is_stated(head: str, factor: int) -> None:
    error = refused(log_with(lambda i: str((SINCE_1970 + i) * factor), head))
    assert error.thing == f"unit of column {head!r}"
    assert "log.csv, line 2" in error.place
    assert f"--as 'unit:{head}=UNIT'" in error.expected


def test_the_right_unit_by_hand_is_taken() -> None:
    text = log_with(lambda i: str((SINCE_1970 + i) * 1_000))
    log = taken(text, **{"unit:Time [s]": "ms"}).log
    assert log is not None
    assert log.stamped is Stamped.EPOCH
    assert log.begin == "2026-11-20T09:00:00"


@pytest.mark.parametrize("days", [8, 3650])
def test_a_clock_that_leaps_by_days_parts_two_runs(days: int) -> None:
    begin = dt.datetime(2026, 11, 20, 9)

    def stamp(i: int) -> str:
        return str(begin + dt.timedelta(days=days * (i >= 30), seconds=i))

    error = refused(log_with(stamp, "Time"))
    assert "log.csv, line 32" in error.place
    assert f"{days:,} days after" in error.found


def test_a_night_without_readings_is_a_gap() -> None:
    begin = dt.datetime(2026, 11, 20, 9)
    log = taken(log_with(lambda i: str(begin + dt.timedelta(hours=14 * (i >= 30), seconds=i)), "Time")).log
    assert log is not None
    assert len(log.gaps) == 1


@pytest.mark.parametrize("head", ["Time", "Wibble"])
def test_a_heat_run_without_times_is_no_test_of_the_control(head: str) -> None:
    error = refused(log_with(lambda i: "" if head == "Time" else "x", head))
    assert "for heat log also Time" in error.expected


@pytest.mark.parametrize(("lines", "is_bad"), [(5, False), (400, True)])
def test_a_log_that_goes_on_in_another_way_is_not_cut_in_silence(lines: int, is_bad: bool) -> None:
    begin = dt.datetime(2026, 11, 20, 9)
    rows = log_with(lambda i: str(begin + dt.timedelta(seconds=i)), "Time", 400 + lines).splitlines()
    text = "\n".join([*rows[:401], *(each.replace(",", "\t") for each in rows[401:])]) + "\n"
    if is_bad:
        error = refused(text)
        assert error.thing == "lines after the readings"
        assert "log.csv, line 402" in error.place
    else:
        assert len(taken(text)) == 400
