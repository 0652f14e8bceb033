"""A rig watched from its first line to its last: what it says, and when."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from growing_rig import HEAD, START, STEP, heat_lab, no_findings, rig_in, rows

from stillroom.live.deciding import decide
from stillroom.live.seeing import Rig
from stillroom.live.states import RigState, State

ONCE = '\n[heat]\nrepeat = "never"\n'
RUN = [(40.0, 14.0, 8.0), (80.0, 11.0, 7.5)]
STEPS = "rig,fan,sample,step,duty [%]\nheat-1,Bracken,1,1,40\nheat-1,Bracken,1,2,80\n"


def grow(rig: Rig, path: Path, lines: list[str], every: int = 24) -> list[tuple[float, RigState]]:
    """The states while a file grows, every two minutes, with the time [s]."""
    found = []
    with path.open("a", encoding="utf-8", newline="") as out:
        for begin in range(0, len(lines), every):
            out.write("".join(f"{each}\n" for each in lines[begin : begin + every]))
            out.flush()
            at = STEP * min(begin + every, len(lines))
            found.append((at, decide(rig.look(START + timedelta(seconds=at)))))
    return found


def words(found: list[tuple[float, RigState]]) -> list[State]:
    """The words in order, each once."""
    states = [each.state for _, each in found]
    return [each for at, each in enumerate(states) if at == 0 or states[at - 1] is not each]


def test_two_planned_settings(tmp_path: Path) -> None:
    lab = heat_lab(tmp_path, steps=STEPS, settings=ONCE)
    rig = rig_in(lab, tmp_path / "logs", no_findings)
    lines = [HEAD, *rows(RUN)]
    found = grow(rig, tmp_path / "logs" / "2026-03-13 Bracken s1.csv", lines)
    assert words(found) == [State.SETTLING, State.STEADY, State.SETTLING, State.READY]
    at, steady = next(each for each in found if each[1].state is State.STEADY)
    assert steady.reason == "set 80 % next"
    assert 5.0 <= at / 200.0 <= 7.0  # ln(12/0.05) = 5.5 time constants, looked at every 0.6
    assert (steady.fan, steady.sample, steady.step, steady.of) == ("Bracken", "s1", 1, 2)
    forecast = next(each for _, each in found if each.forecast is not None).forecast
    assert forecast is not None
    assert forecast.low - 0.1 < 13.95 < forecast.high + 0.1  # 14 K at 300 W; the heater gives 299.99
    last = found[-1][1]
    assert last.state is State.READY
    assert last.value == pytest.approx(11.0, abs=0.05)


def test_nothing_planned_and_rotated_midway(tmp_path: Path) -> None:
    lab = heat_lab(tmp_path, settings=ONCE)
    rig = rig_in(lab, tmp_path / "logs", no_findings)
    path = tmp_path / "logs" / "Bracken s1.csv"
    lines = rows(RUN)
    grow(rig, path, [HEAD, *lines[:400]])
    path.rename(tmp_path / "logs" / "Bracken s1 1.csv")
    rest = lines[400:]
    found = []
    with path.open("a", encoding="utf-8") as out:
        out.write(f"{HEAD}\n")
        for begin in range(0, len(rest), 40):
            out.write("".join(f"{each}\n" for each in rest[begin : begin + 40]))
            out.flush()
            at = STEP * (400 + begin + 40)
            found.append((at, decide(rig.look(START + timedelta(seconds=at)))))
    assert found[-1][1].state is State.READY
    assert found[-1][1].step == 2  # the first setting was not lost with the old file


def test_two_loggers_that_write_at_once_stay_two_though_named_alike(tmp_path: Path) -> None:
    lab = heat_lab(tmp_path, settings=ONCE)
    rig = rig_in(lab, tmp_path / "logs", no_findings)
    text = "".join(f"{each}\n" for each in [HEAD, *rows(RUN)])
    for name in ("Bracken s1 1.csv", "Bracken s1 2.csv"):
        (tmp_path / "logs" / name).write_text(text, encoding="utf-8")
    rig.look(START + timedelta(seconds=3100))
    node = rig.places.node("heat-1", list(rig.logs.values()))
    assert node is not None
    assert {each.run.logger for each in node.logs} == {"Bracken s1 1", "Bracken s1 2"}


def test_half_lines_and_a_truncated_beginning(tmp_path: Path) -> None:
    lab = heat_lab(tmp_path, settings=ONCE)
    rig = rig_in(lab, tmp_path / "logs", no_findings)
    path = tmp_path / "logs" / "Bracken s1.csv"
    path.write_bytes(b"\xef\xbb\xbftime;t_")
    assert decide(rig.look(START)).state is State.SETTLING
    path.write_bytes(b"\xef\xbb\xbf" + "".join(f"{each}\n" for each in [HEAD, *rows(RUN[:1])]).encode()[:-7])
    at = START + timedelta(seconds=1600)
    state = decide(rig.look(at))
    assert state.state is State.STEADY
    assert "the last line of Bracken s1.csv is not whole" in state.reason


def test_the_rules_speak_while_it_runs(tmp_path: Path) -> None:
    """A heater that wanders by 3 % is said with its cause and a one-minute test before the step is over."""
    lab = heat_lab(tmp_path, settings=ONCE)
    rig = rig_in(lab, tmp_path / "logs")
    lines = [
        line.replace("230.00", f"{230.0 + 7.0 * (at // 30 % 2):.2f}") for at, line in enumerate(rows(RUN[:1]))
    ]
    found = grow(rig, tmp_path / "logs" / "Bracken s1.csv", [HEAD, *lines])
    checks = [each for _, each in found if each.state is State.CHECK]
    assert checks
    assert "probable cause: " in checks[-1].reason
    assert "test: " in checks[-1].reason
    assert any(each["rule"] == "36" for each in checks[-1].findings)


def test_a_logger_of_its_own_that_lags(tmp_path: Path) -> None:
    lab = heat_lab(tmp_path, settings=ONCE)
    rig = rig_in(lab, tmp_path / "logs", no_findings)
    lines = rows(RUN[:1])
    for name, columns, count in (("temp", (0, 1, 2, 5, 6), None), ("power", (0, 3, 4), -30)):
        picked = [";".join(each.split(";")[at] for at in columns) for each in [HEAD, *lines[:count]]]
        path = tmp_path / "logs" / f"Bracken s1 {name}.csv"
        path.write_text("".join(f"{each}\n" for each in picked), encoding="utf-8")
    state = decide(rig.look(START + timedelta(seconds=1600)))
    assert state.state is State.STEADY
    assert "Bracken s1 power.csv lags 150 s behind" in state.reason


def test_a_late_start_sees_the_same(tmp_path: Path) -> None:
    """Whoever begins to watch in the middle of a run is told what those were who watched it all."""
    lab = heat_lab(tmp_path, settings=ONCE)
    path = tmp_path / "logs" / "Bracken s1.csv"
    first = rig_in(lab, tmp_path / "logs", no_findings)
    before = grow(first, path, [HEAD, *rows(RUN)])[-1][1]
    late = decide(rig_in(lab, tmp_path / "logs", no_findings).look(START + timedelta(seconds=3100)))
    assert (late.state, late.step, late.of) == (before.state, before.step, before.of)
    assert late.value == pytest.approx(before.value, abs=1e-6)
    assert late.forecast is not None
    assert before.forecast is not None
    assert late.forecast.final == pytest.approx(before.forecast.final, abs=0.002)
