from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from making import note

from stillroom.errors import BadInput, LabDamaged, NotPossible, StillroomError, UnreadableFile
from stillroom.records.products import Fan
from stillroom.records.settings import template
from stillroom.store import folder, journal, results
from stillroom.store.lab import Lab
from stillroom.store.results import Result


def close(lab: Lab) -> Path:
    lab.database.close()
    return lab.path / "lab.sqlite"


def test_the_nearest_lab_upwards_is_found(path: Path, tmp_path: Path) -> None:
    deep = path / "originals" / "a"
    deep.mkdir()
    assert folder.find(deep) == path.resolve()
    with pytest.raises(BadInput, match=r"no lab\.toml"):
        folder.find(tmp_path)


def test_a_lab_is_made_only_where_nothing_is(path: Path, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="already there"):
        folder.make(path, template("x"))
    (tmp_path / "file").write_text("x")
    with pytest.raises(BadInput, match="a file"):
        folder.make(tmp_path / "file", template("x"))
    with pytest.raises(BadInput, match="files in it"):
        folder.make(tmp_path, template("x"))


@pytest.mark.parametrize("kind", ["nfs4", "cifs", "9p", "fuse.sshfs"])
def test_a_network_drive_is_refused_with_the_reason(
    path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    monkeypatch.setattr(folder, "_file_system", lambda _: kind)
    with pytest.raises(BadInput, match=f"network drive \\({kind}\\), where the database's locks"):
        Lab(path)
    with pytest.raises(BadInput, match="network drive"):
        folder.make(path.parent / "other", template("x"))


@pytest.mark.parametrize(
    "data", [b"garbage" * 1000, b"\x00" * 8192, b"SQLite format 3\x00" + b"\xff" * 5000, os.urandom(4096)]
)
def test_a_database_that_is_none_is_said_in_words(lab: Lab, data: bytes) -> None:
    close(lab).write_bytes(data)
    with pytest.raises(LabDamaged, match="restore a backup") as caught:
        Lab(lab.path)
    assert "lab.sqlite" in caught.value.place


@pytest.mark.parametrize("share", [0.9, 0.5, 0.2, 0.02])
def test_a_database_that_is_cut_off_never_ends_in_an_error_of_the_database(lab: Lab, share: float) -> None:
    lab.database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    file = close(lab)
    data = file.read_bytes()
    file.write_bytes(data[: int(share * len(data))])
    with pytest.raises(StillroomError):
        read_all(lab.path)


def read_all(path: Path) -> None:
    with Lab(path) as opened:
        journal.check(opened.database)
        for kind in ("fan", "sample", "run", "results"):
            opened.database.execute(f"SELECT * FROM {kind}").fetchall()


@pytest.mark.parametrize("how", ["gone", "empty", "without its log"])
def test_originals_without_their_journal_ask_for_a_backup(lab: Lab, how: str) -> None:
    file = close(lab)
    if how == "gone":
        file.unlink()
    elif how == "empty":
        file.write_bytes(b"")
    else:
        file.unlink()
        with sqlite3.connect(file) as bare:
            bare.execute("CREATE TABLE other (x)")
        bare.close()
    with pytest.raises(LabDamaged, match=r"originals such as .*stillroom restore"):
        Lab(lab.path)


def test_a_new_lab_may_be_opened_and_killed_before_anything_was_added(path: Path) -> None:
    (path / "lab.sqlite").write_bytes(b"")
    with Lab(path) as lab:
        assert journal.check(lab.database) == 0


def test_another_programs_transaction_is_waited_for_and_then_named(
    lab: Lab, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(folder, "PATIENCE", 0.2)
    with sqlite3.connect(lab.path / "lab.sqlite", isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(NotPossible, match="another program"), Lab(lab.path) as second:
            second.write([note(Fan(fan="Rush"))])
        other.execute("ROLLBACK")
    other.close()
    assert "Rush" not in lab.current(Fan)


@pytest.mark.parametrize(
    ("code", "kind", "words"),
    [
        (sqlite3.SQLITE_READONLY, BadInput, "may be written"),
        (sqlite3.SQLITE_CANTOPEN, BadInput, "may be written"),
        (sqlite3.SQLITE_FULL, NotPossible, "full disk"),
        (sqlite3.SQLITE_BUSY_SNAPSHOT, NotPossible, "another program"),
        (sqlite3.SQLITE_CORRUPT, LabDamaged, "restore a backup"),
        (sqlite3.SQLITE_NOTADB, LabDamaged, "restore a backup"),
    ],
)
def test_each_error_of_the_database_has_its_words(
    path: Path, code: int, kind: type[StillroomError], words: str
) -> None:
    error = sqlite3.OperationalError("told by SQLite")
    error.sqlite_errorcode = code
    with pytest.raises(kind, match=words), Lab(path):
        raise error


def test_a_folder_in_the_databases_place_is_said_in_words(path: Path) -> None:
    (path / "lab.sqlite").mkdir()
    with pytest.raises(StillroomError, match="lab"):
        Lab(path)


def test_settings_are_read_before_the_database_is_touched(path: Path) -> None:
    (path / "lab.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(UnreadableFile):
        Lab(path)
    assert not (path / "lab.sqlite").exists()


def result(key: str, *, arrays: bool = True, **body: object) -> Result:
    return Result(key, "mounting", "m1", {}, "airflow mounting 1", arrays, dict(body))


def test_results_count_only_with_their_arrays(lab: Lab) -> None:
    results.save_arrays(lab.path, "aa11", {"x": np.arange(3.0)})
    results.save_arrays(lab.path, "bb22", {"x": np.arange(3.0)})
    lab.put_results(
        [result("aa11"), result("bb22"), result("cc33"), result("dd44", arrays=False, failed="no air")]
    )
    asked = ["aa11", "bb22", "cc33", "dd44", "ee55"]
    assert results.known(lab.database, lab.path, asked) == {"aa11", "bb22", "dd44"}
    results.array_file(lab.path, "bb22").unlink()
    assert results.known(lab.database, lab.path, asked) == {"aa11", "dd44"}
    assert results.failures(lab.database, asked) == {"dd44": "no air"}
    assert results.failures(lab.database, ["aa11"]) == {}
    found = results.get(lab.database, "dd44")
    assert found is not None
    assert found.failed == "no air"
    assert [each.key for each in results.starting_with(lab.database, "b")] == ["bb22"]


@pytest.mark.parametrize("harm", ["cut", "empty", "garbage", "gone", "pickled"])
def test_broken_arrays_are_said_in_words(lab: Lab, harm: str) -> None:
    results.save_arrays(lab.path, "aa11", {"x": np.arange(300.0), "y": np.eye(3)})
    file = results.array_file(lab.path, "aa11")
    data = file.read_bytes()
    if harm == "gone":
        file.unlink()
    elif harm == "pickled":
        np.savez(file, x=np.array([{"a": 1}], dtype=object))
    else:
        file.write_bytes({"cut": data[: len(data) // 2], "empty": b"", "garbage": b"x" * 500}[harm])
    with pytest.raises(LabDamaged, match="aa11"):
        results.load_arrays(lab.path, "aa11")


def test_results_of_another_form_are_dropped(lab: Lab, path: Path) -> None:
    lab.database.execute("DROP TABLE results")
    lab.database.execute("CREATE TABLE results (key TEXT PRIMARY KEY, old TEXT)")
    with Lab(path) as again:
        again.put_results([result("aa11", arrays=False)])
        assert results.get(again.database, "aa11") is not None


WRITER = """
import sys
from pathlib import Path
from stillroom.records.fields import as_json
from stillroom.records.products import Fan
from stillroom.store.journal import Note
from stillroom.store.lab import Lab
who = sys.argv[2]
for i in range(40):
    with Lab(Path(sys.argv[1])) as lab:
        fans = [Fan(fan=f"{who}-{i}-{j}") for j in range(5)]
        lab.write([Note("fan", each.name, as_json(each)) for each in fans], by=who)
"""


def test_two_programs_that_open_a_new_lab_and_write_at_once_wait_for_each_other(path: Path) -> None:
    both = [subprocess.Popen([sys.executable, "-c", WRITER, str(path), who]) for who in ("a", "b")]
    assert [each.wait(timeout=60) for each in both] == [0, 0]
    with Lab(path) as lab:
        assert journal.check(lab.database) == 400
        assert len(lab.current(Fan)) == 400
        authors = [each.by for each in journal.entries(lab.database)]
    assert all(len(set(authors[i : i + 5])) == 1 for i in range(0, 400, 5)), "a transaction is not parted"
