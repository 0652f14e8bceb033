"""The invented bench for control: its files against its truth."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from stillroom.demo.calendar import USUAL_DAY, calendar_of
from stillroom.demo.catalogue import BY_VOLTAGE, fans, obstacles
from stillroom.demo.control.answering import LAG, answer_of
from stillroom.demo.control.plan import full_control, quick_control
from stillroom.demo.control.truth import ControlTruth
from stillroom.demo.control.write import write_control
from stillroom.demo.fan import Fan
from stillroom.demo.plan import Mounting
from stillroom.demo.truth import Fault
from stillroom.demo.write import SEED, samples

Made = tuple[Path, tuple[ControlTruth, ...], tuple[Fault, ...]]


def known(*, full: bool) -> dict[tuple[str, str], Fan]:
    models = fans(SEED, obstacles(SEED, full=full), full=full)
    runs = (full_control if full else quick_control)(faults=True)
    return samples(models, tuple(Mounting(each.fan, each.sample, 1) for each in runs), SEED)


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("control")
    runs = full_control(faults=True)
    made = write_control(folder, SEED, known(full=True), calendar_of(USUAL_DAY, 16), runs, (105, 365))
    return folder, *made


def rows_of(folder: Path, file: str) -> list[dict[str, str]]:
    with (folder / file).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def settled(folder: Path, truth: ControlTruth) -> list[tuple[float, float]]:
    """(setting, mean speed [1/s]) of each step in order, from the second half of its readings; the open wire apart."""
    rows = rows_of(folder, truth.files[0])
    name = next(each for each in rows[0] if each.startswith(("duty", "supply")))
    steps: list[tuple[str, list[float]]] = []
    for row in rows:
        if not steps or steps[-1][0] != row[name]:
            steps.append((row[name], []))
        steps[-1][1].append(float(row["speed [rpm]"]) / 60)
    return [(float(at), float(np.mean(speeds[len(speeds) // 2 :]))) for at, speeds in steps if at != "open"]


def halves(folder: Path, truth: ControlTruth) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    found = np.array(settled(folder, truth))
    top = int(np.argmax(found[:, 0]))
    return found[: top + 1], found[top:]


def test_fourteen_fans_answer_and_all_ways_are_there(bench: Made) -> None:
    _, truths, _ = bench
    assert len({each.fan for each in truths}) == 14
    assert {each.fan for each in truths if each.by == "volts"} == set(BY_VOLTAGE[:2])
    assert {each.stops for each in truths} == {True, False}
    assert sorted({(each.tried, each.started) for each in truths}) == [(10, 9), (10, 10)]


def test_a_fan_starts_above_where_it_stops(bench: Made) -> None:
    folder, truths, faults = bench
    slow = {each.mounting for each in faults}
    for truth in truths:
        up, down = halves(folder, truth)
        if not truth.stops:
            assert (up[:, 1] > 0).all()
            assert (down[:, 1] > 0).all()
            continue
        assert truth.start > truth.stop
        for setting, speed in up:
            assert (speed > 1) == (setting >= truth.start), (truth.fan, setting)
        for setting, speed in down:
            assert (speed > 1) == (setting >= truth.stop), (truth.fan, setting)
        if truth.mounting not in slow:
            assert truth.lowest <= down[down[:, 1] > 1][-1, 1] * 1.002


def test_speed_lags_a_little_and_ends_at_full(bench: Made) -> None:
    folder, truths, _ = bench
    for truth in truths:
        up, down = halves(folder, truth)
        assert up[-1, 1] == pytest.approx(truth.full, rel=2e-3)
        for setting, speed in down[1:6]:
            rising = next(n for at, n in up if at == setting)
            assert speed / rising - 1 == pytest.approx(LAG, abs=1.5e-3)


def test_departure_from_the_line_is_that_of_the_files(bench: Made) -> None:
    folder, truths, faults = bench
    slow = {each.mounting for each in faults}
    for truth in truths:
        if truth.by == "duty" and truth.mounting not in slow:
            up, _ = halves(folder, truth)
            away = up[:, 1] / truth.full - up[:, 0] / 100
            assert max(away[up[:, 0] >= 30], key=abs) == pytest.approx(truth.departure, abs=3e-3)


def test_an_open_wire_is_full_speed(bench: Made) -> None:
    folder, truths, _ = bench
    for truth in truths:
        if truth.by == "duty":
            rows = [row for row in rows_of(folder, truth.files[0]) if row["duty [%]"] == "open"]
            assert float(rows[-1]["speed [rpm]"]) / 60 == pytest.approx(truth.full, rel=4e-3)


def test_attempts_and_inrush_are_written_down(bench: Made) -> None:
    folder, truths, _ = bench
    for truth in truths:
        rows = rows_of(folder, truth.files[1])
        assert len(rows) == truth.tried
        assert sum(row["started"] == "yes" for row in rows) == truth.started
        if truth.stops:
            assert truth.tried_at > truth.start
        current = np.array([float(row["current [A]"]) for row in rows_of(folder, truth.files[2])])
        assert float(np.max(current)) == pytest.approx(truth.peak, rel=0.12)
        assert float(np.mean(current[:40])) == pytest.approx(0.0, abs=2e-3)


def test_a_slow_generator_lifts_low_duties(bench: Made) -> None:
    """The fan takes a duty of it for that duty to the power of 0.86: 50 % for 55 %."""
    folder, truths, faults = bench
    (fault,) = faults
    assert fault.name == "slow PWM generator on a control run"
    wrong = next(each for each in truths if each.mounting == fault.mounting)
    right = next(each for each in truths if each.fan == wrong.fan and each.mounting != wrong.mounting)
    speeds = [dict(map(tuple, halves(folder, each)[0])) for each in (wrong, right)]
    assert speeds[0][50.0] / speeds[1][50.0] > 1.04
    assert speeds[0][100.0] / speeds[1][100.0] == pytest.approx(1.0, abs=2e-3)
    told = {row["mounting"]: row["PWM frequency [kHz]"] for row in rows_of(folder, "control-runs.csv")}
    assert (told[wrong.mounting], told[right.mounting]) == ("2.5", "25")


def test_same_answer_for_every_sample_of_a_fan() -> None:
    fan = known(full=False)["Sedge", "s1"]
    assert answer_of(SEED, fan) == answer_of(SEED, fan)
    assert answer_of(SEED, fan) != answer_of(SEED + 1, fan)
