"""What loggers, copies and people do to files while a rig is watched."""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path

import pytest
from growing_rig import HEAD, START, STEP, heat_lab, no_findings, played, rig_in, row_of, rows

from stillroom.lab.book import open_book
from stillroom.live import following
from stillroom.live.deciding import decide
from stillroom.live.growing import GrowingLog
from stillroom.live.seeing import Rig
from stillroom.live.states import RigState, State

ONCE = '\n[heat]\nrepeat = "never"\n'
RUN = [(40.0, 14.0, 8.0), (80.0, 11.0, 7.5)]


def write(path: Path, lines: list[str], mode: str = "a") -> None:
    with path.open(mode, encoding="utf-8", newline="") as out:
        out.write("".join(f"{each}\n" for each in lines))


def look(rig: Rig, at: float) -> RigState:
    return decide(rig.look(START + timedelta(seconds=at)))


def later(by: float, run: list[tuple[float, float, float]] = RUN) -> list[str]:
    """The lines of a run that begins later [s]."""
    return [row_of(t + by, rise, duty) for t, rise, duty in zip(*played(run), strict=True)]


def test_a_copy_that_a_program_renews_is_one_file(tmp_path: Path) -> None:
    rig = rig_in(heat_lab(tmp_path, settings=ONCE), tmp_path / "logs", no_findings)
    path, lines = tmp_path / "logs" / "Bracken s1.csv", rows(RUN)
    states = []
    for end in range(90, len(lines) + 90, 90):
        write(tmp_path / "part", [HEAD, *lines[:end]], "w")
        (tmp_path / "part").replace(path)
        states.append(look(rig, STEP * end))
    assert states[-1].state is State.READY
    assert len(rig.logs) == len(rig.following.files) == 1


def test_another_content_takes_the_place_of_the_first(tmp_path: Path) -> None:
    rig = rig_in(heat_lab(tmp_path, settings=ONCE), tmp_path / "logs", no_findings)
    path = tmp_path / "logs" / "Bracken s1.csv"
    write(path, [HEAD, *rows(RUN)])
    assert look(rig, 3100.0).value == pytest.approx(11.0, abs=0.05)
    write(tmp_path / "other", [HEAD, *rows([(40.0, 18.0, 8.0), (80.0, 15.0, 7.5)])])
    (tmp_path / "other").replace(path)
    assert look(rig, 3105.0).value == pytest.approx(15.0, abs=0.05)


def test_a_file_that_moved_out_of_sight_keeps_its_readings(tmp_path: Path) -> None:
    rig = rig_in(heat_lab(tmp_path, settings=ONCE), tmp_path / "logs", no_findings)
    path, lines = tmp_path / "logs" / "Bracken s1.csv", rows(RUN)
    write(path, [HEAD, *lines[:400]])
    look(rig, 2000.0)
    path.rename(tmp_path / "logs" / "Bracken s1.csv.1")
    write(path, [HEAD, *lines[400:]])
    assert (look(rig, 3100.0).state, look(rig, 3100.0).step) == (State.READY, 2)


def test_a_file_that_is_kept_from_us_is_said_to_be(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rig = rig_in(heat_lab(tmp_path, settings=ONCE), tmp_path / "logs", no_findings)
    path, lines = tmp_path / "logs" / "Bracken s1.csv", rows(RUN)
    write(path, [HEAD, *lines[:-1]])
    assert look(rig, 3100.0).state is State.READY
    write(path, lines[-1:])
    with monkeypatch.context() as held:
        held.setattr(following.Path, "open", _refuses)
        assert look(rig, 3105.0).state is State.STEADY
        assert "can't be opened just now" in look(rig, 3105.0).reason
        long = look(rig, 3300.0)
    assert long.state is State.CHECK
    assert "Bracken s1.csv can't be opened since 3 min; probable cause: another program" in long.reason
    assert look(rig, 3305.0).state is State.READY


def test_a_file_that_could_never_be_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rig = rig_in(heat_lab(tmp_path, settings=ONCE), tmp_path / "logs", no_findings)
    path = tmp_path / "logs" / "Bracken s1.csv"
    write(path, [HEAD])
    os.utime(path, (START.timestamp(), START.timestamp()))
    with monkeypatch.context() as held:
        held.setattr(following.Path, "open", _refuses)
        assert look(rig, 600.0).state is State.CHECK


def _refuses(*_args: object, **_more: object) -> None:
    raise PermissionError(13, "in use")


@pytest.mark.parametrize("second", ["Bracken s1 2.csv", "Bracken s1 afternoon.csv", "without a name.csv"])
def test_what_passed_in_one_run_has_not_passed_in_the_next(tmp_path: Path, second: str) -> None:
    rig = rig_in(heat_lab(tmp_path, settings=ONCE), tmp_path / "logs", no_findings)
    write(tmp_path / "logs" / "Bracken s1.csv", [HEAD, *rows(RUN)])
    assert look(rig, 3100.0).state is State.READY
    lines = later(9000.0)
    write(tmp_path / "logs" / second, [HEAD, *lines[:40]])
    begun = look(rig, 9200.0)
    assert (begun.state, begun.step) == (State.SETTLING, 1)
    write(tmp_path / "logs" / second, lines[40:])
    assert (look(rig, 12100.0).state, look(rig, 12100.0).step) == (State.READY, 2)


def test_a_line_that_is_wrong_is_named_by_its_place_in_the_file(tmp_path: Path) -> None:
    log = GrowingLog("heat-1/a.csv", open_book(heat_lab(tmp_path)))
    lines = rows(RUN)
    for begin in range(0, 300, 50):
        log.take(
            "".join(f"{each}\n" for each in [*([HEAD] * (begin == 0)), *lines[begin : begin + 50]]).encode()
        )
    log.take(b"damaged\n" + "".join(f"{each}\n" for each in lines[300:310]).encode())
    log.take(f"{lines[0]}\n".encode())  # the clock went back: 1 head, 310 readings and a damaged line before
    assert "line 313" in log.why


def test_cells_without_a_reading_hide_no_value(tmp_path: Path) -> None:
    rig = rig_in(heat_lab(tmp_path, settings=ONCE), tmp_path / "logs", no_findings)
    lines = rows(RUN[:1])
    empty = [";".join([each.split(";")[0], "NaN", *each.split(";")[2:]]) for each in lines[-4:]]
    write(tmp_path / "logs" / "Bracken s1.csv", [HEAD, *lines[:-4], *empty])
    assert look(rig, 1600.0).value == pytest.approx(14.0, abs=0.05)


def test_a_heater_that_was_never_on_is_no_warning(tmp_path: Path) -> None:
    """The median of no readings at all would be one."""
    rig = rig_in(heat_lab(tmp_path, settings=ONCE), tmp_path / "logs")
    lines = [each.replace("230.00;1.3043", "0.00;0.0000") for each in rows(RUN[:1])]
    write(tmp_path / "logs" / "Bracken s1.csv", [HEAD, *lines[:5]])
    assert look(rig, 30.0).state is State.SETTLING
