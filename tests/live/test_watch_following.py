"""Files that grow: whole lines only, each once, whatever their logger does to them."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from stillroom.live import following
from stillroom.live.following import Following, whole_lines

NOW = datetime(2030, 1, 1)


def gained(watched: Following) -> list[tuple[str, bytes, bool]]:
    return [(each.file.path.name, each.data, each.anew) for each in watched.look(NOW)]


def add(path: Path, data: bytes) -> None:
    with path.open("ab") as out:
        out.write(data)


def test_only_whole_lines_are_gained_and_each_once(tmp_path: Path) -> None:
    file, watched = tmp_path / "a.csv", Following(tmp_path)
    assert gained(watched) == []
    add(file, b"time;hot\n1;2\n3;")
    assert gained(watched) == [("a.csv", b"time;hot\n1;2\n", False)]
    assert gained(watched) == []
    assert not next(iter(watched.files.values())).is_whole
    add(file, b"4\n")
    assert gained(watched) == [("a.csv", b"3;4\n", False)]
    assert next(iter(watched.files.values())).is_whole


def test_a_renamed_file_stays_and_a_new_one_is_new(tmp_path: Path) -> None:
    file, watched = tmp_path / "a.csv", Following(tmp_path)
    add(file, b"h\n1\n")
    gained(watched)
    add(file, b"2\n")
    file.rename(tmp_path / "a 1.csv")
    add(file, b"h\n3\n")
    assert gained(watched) == [("a 1.csv", b"2\n", False), ("a.csv", b"h\n3\n", False)]


def test_a_truncated_file_begins_anew(tmp_path: Path) -> None:
    file, watched = tmp_path / "a.csv", Following(tmp_path)
    add(file, b"h\n1\n2\n3\n")
    gained(watched)
    with file.open("r+b") as out:
        out.truncate(0)
        out.write(b"h\n9\n")
    assert gained(watched) == [("a.csv", b"h\n9\n", True)]


def test_a_file_written_anew_and_longer_is_noticed(tmp_path: Path) -> None:
    file, watched = tmp_path / "a.csv", Following(tmp_path)
    add(file, b"h\n1\n2\n")
    gained(watched)
    with file.open("r+b") as out:
        out.write(b"h\n7\n8\n9\n")
    assert gained(watched) == [("a.csv", b"h\n7\n8\n9\n", True)]


def test_a_locked_file_is_read_when_it_is_free(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file, watched = tmp_path / "a.csv", Following(tmp_path)
    add(file, b"h\n1\n")
    with monkeypatch.context() as held:
        held.setattr(following.Path, "open", _refuses)
        assert gained(watched) == []
        assert next(iter(watched.files.values())).is_held
    assert gained(watched) == [("a.csv", b"h\n1\n", False)]


def _refuses(*_args: object, **_more: object) -> None:
    raise PermissionError(13, "in use")


def test_wide_letters_are_cut_between_letters(tmp_path: Path) -> None:
    file, watched = tmp_path / "a.txt", Following(tmp_path)
    text = "t;hö\n1;2\n3;4\n".encode("utf-16")
    add(file, text[:-5])
    assert gained(watched) == [("a.txt", "t;hö\n1;2\n".encode("utf-16"), False)]
    add(file, text[-5:])
    assert gained(watched) == [("a.txt", "3;4\n".encode("utf-16-le"), False)]


def test_a_newline_byte_inside_a_wide_letter_is_none() -> None:
    data = "a\u0a00".encode("utf-16-be")  # 00 61 0a 00
    assert whole_lines(b"\x00\n" + data, b"\x00\n") == (b"\x00\n", data)


def test_patterns_endings_and_hidden_files(tmp_path: Path) -> None:
    for name in ("a.csv", "b.txt", "c.xlsx", ".d.csv", "~$e.csv"):
        add(tmp_path / name, b"1\n")
    assert [name for name, _, _ in gained(Following(tmp_path))] == ["a.csv", "b.txt"]
    assert [name for name, _, _ in gained(Following(tmp_path, "b*"))] == ["b.txt"]
    assert gained(Following(tmp_path / "away")) == []


def test_when_a_file_last_grew(tmp_path: Path) -> None:
    file, watched = tmp_path / "a.csv", Following(tmp_path)
    add(file, b"1\n")
    watched.look(NOW)
    watched.look(NOW + timedelta(seconds=50))
    add(file, b"2\n")
    watched.look(NOW + timedelta(seconds=60))
    watched.look(NOW + timedelta(seconds=90))
    assert next(iter(watched.files.values())).grown == NOW + timedelta(seconds=60)
