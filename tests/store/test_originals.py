from __future__ import annotations

import os
import stat
import time
from pathlib import Path

import pytest

from stillroom.errors import LabDamaged
from stillroom.store import files, originals


def test_the_same_bytes_under_the_same_name_are_kept_once(tmp_path: Path) -> None:
    assert originals.keep(tmp_path, b"one", "a.csv", "2026-03-02") == "originals/2026-03-02/a.csv"
    assert originals.keep(tmp_path, b"one", "a.csv", "2026-03-02") == "originals/2026-03-02/a.csv"
    assert list(originals.files(tmp_path)) == ["originals/2026-03-02/a.csv"]


def test_other_bytes_of_the_same_name_stand_beside_and_change_nothing(tmp_path: Path) -> None:
    places = [originals.keep(tmp_path, data, "a.csv", "2026-03-02") for data in (b"1", b"2", b"3", b"2")]
    assert [Path(each).name for each in places] == ["a.csv", "a~2.csv", "a~3.csv", "a~2.csv"]
    assert [(tmp_path / each).read_bytes() for each in places] == [b"1", b"2", b"3", b"2"]


def test_names_that_differ_only_in_case_are_the_same(tmp_path: Path) -> None:
    """Else a lab that was made on one system could not be restored on another."""
    places = [
        originals.keep(tmp_path, data, name, "2026-03-02")
        for name, data in (("a.csv", b"1"), ("A.CSV", b"2"), ("Ä.csv", b"3"), ("ä.csv", b"4"))
    ]
    assert [Path(each).name for each in places] == ["a.csv", "A~2.CSV", "Ä.csv", "ä~2.csv"]


def test_originals_are_read_only_from_the_moment_they_appear(tmp_path: Path) -> None:
    place = originals.keep(tmp_path, b"1", "a.csv", "2026-03-02")
    mode = (tmp_path / place).stat().st_mode
    assert not mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)
    assert (tmp_path / place).stat().st_nlink == 1, "nothing is left beside"


def test_a_file_that_another_program_puts_there_meanwhile_is_never_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between the look whether the name is free and the writing, somebody else takes it."""
    taken = tmp_path / "originals/2026-03-02/a.csv"
    write = originals.write_new

    def slow(path: Path, data: bytes) -> None:
        if not taken.exists():
            taken.parent.mkdir(parents=True)
            taken.write_bytes(b"theirs")
        write(path, data)

    monkeypatch.setattr(originals, "write_new", slow)
    assert originals.keep(tmp_path, b"ours", "a.csv", "2026-03-02") == "originals/2026-03-02/a~2.csv"
    assert taken.read_bytes() == b"theirs"


@pytest.mark.parametrize("error", [None, "no links"])
def test_writing_a_new_file_refuses_an_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: str | None
) -> None:
    def refuse(self: Path, target: Path) -> None:
        raise PermissionError(1, "a disk without hard links")

    if error:
        monkeypatch.setattr(Path, "hardlink_to", refuse)
    files.write_new(tmp_path / "a", b"first")
    with pytest.raises(FileExistsError):
        files.write_new(tmp_path / "a", b"second")
    assert (tmp_path / "a").read_bytes() == b"first"
    assert [each.name for each in tmp_path.iterdir()] == ["a"]


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("50 %.csv", "50 %.csv"),
        ("größe.csv", "größe.csv"),
        ("a:b?.csv", "a_b_.csv"),
        ("../../etc/passwd", "_.._etc_passwd"),
        ("con.csv", "_con.csv"),
        ("COM1", "_COM1"),
        ("...", "unnamed"),
        ("x\x00y\n.csv", "x_y_.csv"),
        (".hidden.csv", "hidden.csv"),
    ],
)
def test_names_are_kept_in_a_form_that_every_system_can_keep(tmp_path: Path, name: str, kept: str) -> None:
    assert originals.plain_name(name) == kept
    assert (tmp_path / originals.keep(tmp_path, b"1", name, "d")).read_bytes() == b"1"


@pytest.mark.parametrize("name", ["x" * 300 + ".csv", "ü" * 300 + ".csv", "x" * 300, "a." + "b" * 300])
def test_names_too_long_are_cut_and_still_get_their_number(tmp_path: Path, name: str) -> None:
    first = originals.keep(tmp_path, b"1", name, "d")
    second = originals.keep(tmp_path, b"2", name, "d")
    assert first != second
    assert (tmp_path / first).read_bytes() == b"1"
    assert first.endswith(".csv") or not name.endswith(".csv")


def test_a_missing_or_changed_original_is_damage(tmp_path: Path) -> None:
    place = originals.keep(tmp_path, b"1", "a.csv", "d")
    digest = originals.digest_of(b"1")
    assert originals.data_of(tmp_path, place, digest) == b"1"
    (tmp_path / place).chmod(0o644)
    (tmp_path / place).write_bytes(b"2")
    with pytest.raises(LabDamaged, match="differ"):
        originals.data_of(tmp_path, place, digest)
    (tmp_path / place).unlink()
    with pytest.raises(LabDamaged, match="no such file"):
        originals.data_of(tmp_path, place, digest)


def test_a_write_that_fails_leaves_the_old_file_and_nothing_beside(tmp_path: Path) -> None:
    files.write_bytes(tmp_path / "a", b"old")

    def fail(file: object) -> None:
        raise OSError("disk full")

    with pytest.raises(OSError, match="disk full"):
        files.write_whole(tmp_path / "a", fail)
    assert (tmp_path / "a").read_bytes() == b"old"
    assert len(list(tmp_path.iterdir())) == 1


def test_only_old_pieces_are_swept_as_another_program_may_be_writing(tmp_path: Path) -> None:
    old, young, other = tmp_path / "x/.a.part", tmp_path / "x/.b.part", tmp_path / "x/c.part"
    old.parent.mkdir()
    for each in (old, young, other):
        each.write_bytes(b"half")
    os.utime(old, (time.time() - 2 * files.OLD_PART,) * 2)
    os.utime(other, (time.time() - 2 * files.OLD_PART,) * 2)
    assert files.sweep_parts(tmp_path) == 1
    assert sorted(each.name for each in young.parent.iterdir()) == [".b.part", "c.part"]
    assert originals.orphans(tmp_path, []) == []
