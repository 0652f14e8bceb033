"""Releases as part of what is verified, backed up and restored."""

from __future__ import annotations

import hashlib
import json
import shutil
import zipfile
from pathlib import Path

import pytest

from stillroom.errors import BadInput, LabDamaged
from stillroom.records.fields import as_json
from stillroom.records.publishing import Frozen
from stillroom.records.settings import template
from stillroom.store import backup, folder
from stillroom.store.journal import Note
from stillroom.store.lab import Lab
from stillroom.store.verify import verify


def frozen_in(lab: Lab, name: str = "spring") -> Path:
    place = lab.path / "releases" / name
    (place / "page").mkdir(parents=True)
    files = {"a.csv": b"fan,value\n", "page/notice.js": b"null\n"}
    for path, data in files.items():
        (place / path).write_bytes(data)
    told = [{"path": path, "sha256": hashlib.sha256(data).hexdigest()} for path, data in files.items()]
    manifest = json.dumps({"files": told}).encode()
    (place / "manifest.json").write_bytes(manifest)
    record = Frozen(release=name, date="2026-03-04", manifest=hashlib.sha256(manifest).hexdigest())
    lab.write([Note(Frozen.kind, name, as_json(record))])
    return place


@pytest.fixture
def path(tmp_path: Path) -> Path:
    folder.make(tmp_path / "lab", template("a lab"))
    return tmp_path / "lab"


def test_a_whole_release_is_whole_and_its_notice_may_change(path: Path) -> None:
    with Lab(path) as lab:
        place = frozen_in(lab)
        (place / "page/notice.js").write_bytes(b"corrected\n")
        (place / "corrected.json").write_bytes(b"{}")
        found = verify(lab)
    assert found.whole
    assert found.releases == 1


@pytest.mark.parametrize("path_changed", ["a.csv", "manifest.json", "b.csv", "gone"])
def test_a_file_that_was_changed_added_or_lost_is_named(
    path: Path, tmp_path: Path, path_changed: str
) -> None:
    with Lab(path) as lab:
        place = frozen_in(lab)
        if path_changed == "gone":
            (place / "a.csv").unlink()
        else:
            with (place / path_changed).open("ab") as file:
                file.write(b" ")
        found = verify(lab)
        assert not found.whole
        assert any(("a.csv" if path_changed == "gone" else path_changed) in line for line in found.lines())
        with pytest.raises(LabDamaged):
            backup.backup(lab, tmp_path / "kept.zip")
    assert not (tmp_path / "kept.zip").exists()


def test_a_release_comes_back_from_a_backup_byte_for_byte(path: Path, tmp_path: Path) -> None:
    with Lab(path) as lab:
        place = frozen_in(lab)
        backup.backup(lab, tmp_path / "kept.zip")
    backup.restore(tmp_path / "kept.zip", tmp_path / "again")
    for each in (file for file in place.rglob("*") if file.is_file()):
        assert (tmp_path / "again" / each.relative_to(path)).read_bytes() == each.read_bytes()
    with Lab(tmp_path / "again") as lab:
        assert verify(lab).whole


def test_a_backup_whose_release_was_changed_makes_no_lab(path: Path, tmp_path: Path) -> None:
    with Lab(path) as lab:
        frozen_in(lab)
        backup.backup(lab, tmp_path / "kept.zip")
    for name, data, error in (
        ("releases/spring/a.csv", b"fan,VALUE\n", LabDamaged),
        ("releases/other/x.csv", b"", BadInput),
    ):
        changed = tmp_path / f"changed-{len(name)}.zip"
        with zipfile.ZipFile(tmp_path / "kept.zip") as kept, zipfile.ZipFile(changed, "w") as made:
            for each in kept.namelist():
                made.writestr(each, data if each == name else kept.read(each))
            if name not in kept.namelist():
                made.writestr(name, data)
        with pytest.raises(error):
            backup.restore(changed, tmp_path / "again")
        assert not (tmp_path / "again").exists()


def test_a_release_that_was_taken_away_is_told_and_left_out(path: Path, tmp_path: Path) -> None:

    with Lab(path) as lab:
        shutil.rmtree(frozen_in(lab))
        assert verify(lab).lines() == ("releases/spring: its folder is gone",)
        backup.backup(lab, tmp_path / "kept.zip")
    backup.restore(tmp_path / "kept.zip", tmp_path / "again")
