"""Heat logs that are cut, damaged or nonsense: a StillroomError with its place, or readings that can be true."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillroom.errors import StillroomError
from stillroom.readers.heat.rising import GoesBack, rising
from stillroom.readers.heat.stamps import Stamped, moment, seconds_of, stamps_of
from stillroom.readers.meaning.channels import unnamed_channels
from stillroom.readers.meaning.understanding import understand
from stillroom.readers.reading.recording import Recording, read
from stillroom.readers.source import Source

BEGIN = dt.datetime(2026, 11, 26, 23, 59, 30)
FORMS = (
    "Time,Hot [°C],Air in [°C],Heater [W]\n"
    + "".join(f"{BEGIN + dt.timedelta(seconds=i)},3{i % 10}.5,22.{i % 10},300.1\n" for i in range(60)),
    "Logger;KL-8\nZeit;Heiß;Zuluft;Heizleistung\n;°C;°C;W\n"
    + "".join(
        f"{BEGIN + dt.timedelta(seconds=i):%d.%m.%Y %H:%M:%S};3{i % 10},5;22,{i % 10};300,1\n"
        for i in range(60)
    )
    + "Mittelwert;34,5;22,4;300,1\n",
    "Elapsed [s]\tHot [degC]\tSpeed [rpm]\n" + "".join(f"{i}\t3{i % 10}.5\t120{i % 10}\n" for i in range(60)),
    "Time,Hot [°C]\n"
    + "".join(f"{BEGIN + dt.timedelta(seconds=i):%H:%M:%S},3{i % 10}.5\n" for i in range(60)),
)


def can_be_true(recording: Recording) -> None:
    log, times = recording.log, recording.columns["time"]
    if log is None:
        return
    assert times[0] == 0.0
    assert np.all(np.diff(times) >= 0.0)
    assert log.span > 0.0
    assert {len(values) for values in recording.columns.values()} == {len(recording.lines)}
    for name, values in recording.columns.items():
        if name in log.channels and log.averaged == 1:
            assert int(np.count_nonzero(np.isnan(values))) == log.channels[name].missing


def problem_of(attempt: Callable[[], object]) -> StillroomError | None:
    """What is wrong, where anything is; any other error is the reader's fault."""
    try:
        attempt()
    except StillroomError as problem:
        return problem
    return None


def attempted(data: bytes) -> None:
    source = Source("log.csv", data)

    def whole() -> None:
        for block in understand(source).blocks:
            can_be_true(read(source, block.layout))

    problem = problem_of(whole)
    assert problem is None or (problem.thing and problem.found and problem.expected)
    problem_of(lambda: unnamed_channels(source))


@given(st.sampled_from(FORMS), st.integers(0, 4000))
@settings(max_examples=150, deadline=None)
def test_a_log_cut_anywhere(text: str, end: int) -> None:
    attempted(text.encode()[:end])


@given(st.sampled_from(FORMS), st.integers(0, 2500), st.binary(min_size=1, max_size=6))
@settings(max_examples=150, deadline=None)
def test_a_log_with_foreign_bytes(text: str, at: int, foreign: bytes) -> None:
    data = text.encode()
    attempted(data[:at] + foreign + data[at + len(foreign) :])


@given(
    st.sampled_from(FORMS),
    st.lists(
        st.tuples(
            st.integers(0, 65),
            st.sampled_from(["", "open", "OL", "9999", "1e300", "-", "nan", "door", "99:99:99"]),
        ),
        max_size=8,
    ),
)
@settings(max_examples=100, deadline=None)
def test_a_log_with_odd_cells(text: str, odd: list[tuple[int, str]]) -> None:
    lines = text.splitlines()
    for at, cell in odd:
        if at < len(lines):
            mark = next((each for each in ";\t," if each in lines[at]), ",")
            cells = lines[at].split(mark)
            cells[at % len(cells)] = cell
            lines[at] = mark.join(cells)
    attempted(("\n".join(lines) + "\n").encode())


@given(st.lists(st.integers(0, 3), min_size=2, max_size=200), st.sampled_from(list(Stamped)))
@settings(max_examples=150, deadline=None)
def test_times_rise_whatever_repeats(steps: list[int], kind: Stamped) -> None:
    stamps = 80_000.0 + np.cumsum(np.array(steps, dtype=np.float64))
    times = rising(stamps, kind)
    assert np.all(np.diff(times.seconds) >= 0.0)
    assert times.repeated == sum(1 for each in steps[1:] if each == 0)
    # a reading stays within its second, and the next stamp is not passed
    assert np.all(times.begin + times.seconds >= stamps - 1e-9)
    distinct = np.unique(stamps)
    after = np.append(distinct, np.inf)[np.searchsorted(distinct, stamps) + 1]
    assert np.all(times.begin + times.seconds < after + 1e-9)


@given(st.lists(st.floats(0.0, 86_399.0), min_size=2, max_size=40), st.sampled_from(list(Stamped)))
@settings(max_examples=150, deadline=None)
def test_times_that_go_back_far_are_refused(stamps: list[float], kind: Stamped) -> None:
    back = np.diff(stamps)
    far = back < -2.0
    if kind is Stamped.CLOCK:
        far &= back >= -43_200.0  # a fall of more is midnight's
    if np.any(far):
        with pytest.raises(GoesBack) as caught:
            rising(np.array(stamps), kind)
        assert caught.value.at == int(np.flatnonzero(far)[0]) + 1
    else:
        assert np.all(np.diff(rising(np.array(stamps), kind).seconds) >= 0.0)


@given(st.datetimes(dt.datetime(2000, 1, 1), dt.datetime(2099, 1, 1)), st.sampled_from(["ymd", "dmy", "mdy"]))
@settings(max_examples=150, deadline=None)
def test_a_local_time_is_what_it_was_written_from(at: dt.datetime, order: str) -> None:
    at = at.replace(microsecond=at.microsecond // 1000 * 1000)
    form = {"ymd": "%Y-%m-%d", "dmy": "%d.%m.%Y", "mdy": "%m/%d/%Y"}[order]
    text = f"{at.strftime(form)} {at:%H:%M:%S},{at.microsecond // 1000:03d}"
    kind, (seconds,) = stamps_of([text], None, order)
    assert kind is Stamped.DATED
    assert dt.datetime.fromisoformat(moment(seconds)) == at
    assert moment(seconds_of(moment(seconds))) == moment(seconds)
    half = f"{at.strftime(form)} {at:%I:%M:%S %p}"
    (whole,) = stamps_of([half], None, order)[1]
    assert dt.datetime.fromisoformat(moment(whole)) == at.replace(microsecond=0)
