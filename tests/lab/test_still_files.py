"""Files at rest, with a clock that the test moves."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from stillroom.lab.watch import still_files
from stillroom.lab.watch.still_files import AGAIN, GIVEN_UP, STILL, UNFINISHED, StillFiles


class Clock:
    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def files(tmp_path: Path, clock: Clock) -> StillFiles:
    return StillFiles(tmp_path, clock)


def names(files: StillFiles) -> list[str]:
    return [each.path.name for each in files.ready()]


def later(clock: Clock, seconds: float) -> None:
    clock.now += seconds


def put(path: Path, data: bytes) -> None:
    """Write anew; the time moves on even where the system's clock is coarse."""
    before = path.stat().st_mtime_ns if path.exists() else 0
    path.write_bytes(data)
    if path.stat().st_mtime_ns == before:
        os.utime(path, ns=(before + 1, before + 1))


def test_a_file_is_at_rest_when_it_has_not_changed_for_a_while(
    files: StillFiles, clock: Clock, tmp_path: Path
) -> None:
    put(tmp_path / "a.csv", b"1\n")
    assert names(files) == []
    later(clock, STILL - 0.1)
    put(tmp_path / "a.csv", b"1\n2\n")
    assert names(files) == []
    later(clock, STILL - 0.1)
    assert names(files) == []
    later(clock, 0.2)
    assert [each.data for each in files.ready()] == [b"1\n2\n"]


def test_a_handled_file_comes_again_only_when_it_changes(
    files: StillFiles, clock: Clock, tmp_path: Path
) -> None:
    put(tmp_path / "a.csv", b"1\n")
    names(files)
    later(clock, STILL)
    (found,) = files.ready()
    files.handled(found.path)
    later(clock, 100.0)
    assert names(files) == []
    assert not files.waiting
    put(tmp_path / "a.csv", b"1\n2\n")
    assert names(files) == []
    later(clock, STILL)
    assert names(files) == ["a.csv"]


@pytest.mark.parametrize(
    "half",
    [b"flow,p\n1,2\n3,", "flow\n1".encode("utf-16"), "flow\n1\n".encode("utf-16") + b"\x31"],
    ids=["half a line", "UTF-16 without a last line's end", "half a letter"],
)
def test_a_last_line_without_its_end_waits_longer(
    files: StillFiles, clock: Clock, tmp_path: Path, half: bytes
) -> None:
    put(tmp_path / "a.csv", half)
    names(files)
    later(clock, STILL)
    assert names(files) == []
    later(clock, UNFINISHED - STILL)
    assert names(files) == ["a.csv"]


def test_a_locked_file_is_waited_for(
    files: StillFiles, clock: Clock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path / "a.csv", b"1\n")
    names(files)
    later(clock, STILL)
    real = Path.open

    def locked(self: Path, *words: str) -> object:
        raise PermissionError(13, "The process cannot access the file because it is being used", str(self))

    monkeypatch.setattr(Path, "open", locked)
    assert names(files) == []
    assert files.waiting
    monkeypatch.setattr(Path, "open", real)
    later(clock, AGAIN)
    assert names(files) == ["a.csv"]


def test_a_file_that_changes_while_it_is_read_is_waited_for(
    files: StillFiles, clock: Clock, tmp_path: Path
) -> None:
    put(tmp_path / "a.csv", b"1\n")
    names(files)
    later(clock, STILL)
    state = files._states[tmp_path / "a.csv"]
    put(tmp_path / "a.csv", b"1\n2\n")
    assert still_files._whole(tmp_path / "a.csv", state) is None


def test_removed_and_renamed_files_do_no_harm(files: StillFiles, clock: Clock, tmp_path: Path) -> None:
    put(tmp_path / "a.csv", b"1\n")
    put(tmp_path / "b.csv", b"2\n")
    names(files)
    (tmp_path / "a.csv").unlink()
    (tmp_path / "b.csv").rename(tmp_path / "c.csv")
    later(clock, STILL)
    assert names(files) == []
    later(clock, STILL)
    assert names(files) == ["c.csv"]


def test_a_folder_that_is_gone_for_a_while_is_no_end(
    files: StillFiles, clock: Clock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path / "a.csv", b"1\n")
    names(files)
    later(clock, STILL)

    def gone(_top: Path, onerror: object) -> list[object]:
        onerror(OSError(64, "The specified network name is no longer available"))  # type: ignore[operator]
        return []

    with monkeypatch.context() as without:
        without.setattr(os, "walk", gone)
        files._look()
    assert names(files) == ["a.csv"]


def test_hidden_files_and_marks_of_open_workbooks_are_passed_over(
    files: StillFiles, clock: Clock, tmp_path: Path
) -> None:
    for name in (".a.csv.part", "~$sweep.xlsx"):
        put(tmp_path / name, b"1\n")
    names(files)
    later(clock, STILL)
    assert names(files) == []


def test_after_a_long_time_a_file_is_given_up(files: StillFiles, clock: Clock, tmp_path: Path) -> None:
    put(tmp_path / "a.csv", b"1")
    names(files)
    later(clock, GIVEN_UP - 0.1)
    assert [each.given_up for each in files.ready()] == [False]
    later(clock, 0.2)
    assert [each.given_up for each in files.ready()] == [True]
