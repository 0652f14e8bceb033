"""What is broken, foreign or hostile around a release is told, and is never worked with."""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
import struct
import time
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stillroom.charts.cells import Table
from stillroom.errors import BadInput, LabDamaged, StillroomError, UnreadableFile
from stillroom.lab.executor import Progress
from stillroom.lab.margin_words import margin_in
from stillroom.lab.measure_words import asked_from
from stillroom.measures import measure_named
from stillroom.publish.contents import Contents, gather
from stillroom.publish.dossier.photos import picture_of
from stillroom.publish.freezing import freeze
from stillroom.publish.parts import Part
from stillroom.publish.release import ABOUT, EVIDENCE, Release, read_release, releases_of
from stillroom.publish.tables.writing import write_standings
from stillroom.store.lab import Lab
from stillroom.store.releases import MANIFEST
from stillroom.verbs import correct

TABLES = (Part("standings", write_standings, "standings"),)
LATELY, LONG_AGO = 60.0, 7200.0


@pytest.fixture(scope="module")
def frozen(published_lab: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lab with one small release."""
    place = Path(shutil.copytree(published_lab, tmp_path_factory.mktemp("hostile") / "lab"))
    with Lab(place) as lab:
        freeze(gather(lab, "spring", measures=("free-airflow",), date="2026-03-04"), parts=TABLES)
    return place


@pytest.fixture
def copied(frozen: Path, tmp_path: Path) -> Path:
    """The folder of a lab that has nothing but a copy of that release."""
    shutil.copytree(frozen / "releases", tmp_path / "releases")
    return tmp_path


@pytest.fixture
def contents(frozen: Path) -> Iterator[Contents]:
    with Lab(frozen) as lab:
        yield gather(lab, "next", measures=("free-airflow",), date="2026-03-05")
    shutil.rmtree(frozen / "releases" / "next", ignore_errors=True)


# --- releases that are damaged or foreign ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "wrong",
    [
        {"date": None}, {"date": 5}, {"journal": None}, {"journal": [1]}, {"journal": {"sequence": "x"}},
        {"measures": None}, {"measures": 3}, {"measures": ["a"]},
        {"measures": [{"slug": "../../x", "words": "x", "title": "x", "trials": []}]},
        {"measures": [{"slug": "x", "words": "x", "title": "x", "trials": 5}]}, {"schema": "stillroom/release/2"},
    ],
    ids=str,
)  # fmt: skip
def test_a_release_that_tells_something_else_is_damaged_and_hides_no_other(
    copied: Path, wrong: dict[str, Any]
) -> None:
    other = copied / "releases" / "other"
    shutil.copytree(copied / "releases" / "spring", other)
    about = json.loads((other / ABOUT).read_text(encoding="utf-8")) | wrong
    (other / ABOUT).write_text(json.dumps(about), encoding="utf-8")
    with pytest.raises(LabDamaged, match=r"release\.json"):
        read_release(copied, "other")
    assert [each.name for each in releases_of(copied)] == ["spring"]


def _object_array(slug: str) -> bytes:
    data = io.BytesIO()
    np.savez(data, **{slug: np.array([{"a": 1}], dtype=object)})  # type: ignore[arg-type]
    return data.getvalue()


@pytest.mark.parametrize(
    "damaged",
    [lambda data: b"", lambda data: data[: len(data) // 2], lambda data: b"\x80\x04}.",
     lambda data: _object_array("free-airflow"), lambda data: data + b"\0"],
    ids=["empty", "cut off", "pickled", "objects", "longer"],
)  # fmt: skip
def test_evidence_that_is_not_as_it_was_frozen_is_not_read(
    copied: Path, damaged: Callable[[bytes], bytes]
) -> None:
    release = read_release(copied, "spring")
    path = release.folder / EVIDENCE
    path.write_bytes(damaged(path.read_bytes()))
    with pytest.raises(LabDamaged, match=r"evidence\.npz"):
        release.trials("free-airflow")


def test_a_file_that_was_changed_is_not_read_even_where_it_still_makes_sense(copied: Path) -> None:
    path = copied / "releases/spring/standings/free-airflow.json"
    told = json.loads(path.read_text(encoding="utf-8"))
    told["standings"][0]["value"] *= 2
    path.write_text(json.dumps(told), encoding="utf-8")
    with pytest.raises(LabDamaged, match=r"free-airflow\.json.*other bytes"):
        read_release(copied, "spring").standings("free-airflow")


@pytest.mark.parametrize("manifest", ["[]", "{}", '{"files": 3}', '{"files": [{"path": "a"}]}', ""])
def test_a_manifest_that_lists_nothing_is_damaged(copied: Path, manifest: str) -> None:
    release = read_release(copied, "spring")
    (release.folder / MANIFEST).write_text(manifest, encoding="utf-8")
    with pytest.raises(LabDamaged, match=r"manifest\.json"):
        release.manifest  # noqa: B018
    assert release.wrong()


def test_a_release_of_another_lab_is_not_corrected(own_lab: Path, frozen: Path) -> None:
    shutil.copytree(frozen / "releases" / "spring", own_lab / "releases" / "spring")
    with pytest.raises(LabDamaged, match="journal knows nothing"):
        correct("spring", lab=own_lab)


# --- makings beside one another --------------------------------------------------------------------------------------


def _part_of(home: Path, name: str, age: float) -> Path:
    """A release that another program is making, or was."""
    made = home / f".{name}.part"
    (made / "standings").mkdir(parents=True)
    for each in (made / ABOUT, made / "standings" / "x.csv", made / "standings", made):
        if each.suffix in {".json", ".csv"}:
            each.write_text("{}", encoding="utf-8")
        os.utime(each, (time.time() - age,) * 2)
    return made


def test_what_another_program_is_writing_is_left_alone_and_is_no_release(contents: Contents) -> None:
    home = contents.lab.path / "releases"
    running, left = _part_of(home, "running", LONG_AGO), _part_of(home, "left", LONG_AGO)
    os.utime(running / "standings" / "x.csv", (time.time() - LATELY,) * 2)
    shutil.copy(home / "spring" / ABOUT, running / ABOUT)
    assert [each.name for each in releases_of(contents.lab.path)] == ["spring"]
    freeze(contents, parts=TABLES)
    assert running.is_dir()
    assert not left.exists()
    shutil.rmtree(running)


def test_a_name_that_is_taken_meanwhile_or_in_capitals_is_refused(contents: Contents) -> None:
    home = contents.lab.path / "releases"

    def takes(_contents: Contents, _folder: Path, _progress: Progress) -> list[Path]:
        (home / "Next").write_text("a file", encoding="utf-8")
        return []

    try:
        with pytest.raises(BadInput, match=r"'Next'.*journal knows nothing"):
            freeze(contents, parts=(*TABLES, Part("data", takes, "data")))
    finally:
        (home / "Next").unlink()
    assert [each.name for each in home.iterdir()] == ["spring"]


def test_a_disk_that_fills_at_the_end_leaves_nothing(
    contents: Contents, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("stillroom.publish.freezing.write_index", full)
    with pytest.raises(StillroomError, match="No space left"):
        freeze(contents, parts=TABLES)
    monkeypatch.undo()
    monkeypatch.setattr("stillroom.publish.freezing._keep", full)
    with pytest.raises(OSError, match="No space left"):
        freeze(contents, parts=TABLES)
    assert [each.name for each in (contents.lab.path / "releases").iterdir()] == ["spring"]


def test_the_last_release_is_the_last_of_the_journal_whatever_the_clock_said(contents: Contents) -> None:
    made = freeze(Contents(**{**vars(contents), "date": "2020-01-01"}), parts=TABLES)
    assert [each.name for each in releases_of(contents.lab.path)] == ["spring", made.name]


# --- photos ----------------------------------------------------------------------------------------------------------


def _chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def _png(wide: int, high: int, rows: bytes, *, colour: int = 0, before: bytes = b"") -> bytes:
    header = _chunk(b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, colour, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + before + header + _chunk(b"IDAT", rows) + _chunk(b"IEND", b"")


ROWS = zlib.compress(b"\0" * 12)


@pytest.mark.parametrize(
    "data",
    [
        _png(20_000, 20_000, ROWS), _png(2**31 - 1, 1, ROWS), _png(3, 3, b"no stream"), _png(3, 3, ROWS[:-4]),
        _png(3, 3, zlib.compress(b"\0" * 5_000_000)), _png(3, 3, ROWS, colour=3), _png(3, 3, ROWS, colour=5),
        _png(3, 3, ROWS, before=_chunk(b"tEXt", b"x" * 30)), _png(3, 3, ROWS)[:-6],
        b"\x89PNG\r\n\x1a\n<script>alert(1)</script>", b"\xff\xd8" + b"\xff" * 1000, b"<svg/>",
    ],
    ids=["bomb", "side", "no stream", "cut stream", "longer stream", "no palette", "no colour", "header", "cut off",
         "page", "fill", "svg"],
)  # fmt: skip
def test_a_picture_that_can_not_be_set_is_refused(data: bytes) -> None:
    with pytest.raises(UnreadableFile):
        picture_of(data, "photo.png")


def test_a_whole_picture_is_taken_without_what_follows_it() -> None:
    whole = _png(3, 3, ROWS)
    assert picture_of(whole + b"<script>", "photo.png").data == whole


# --- tables ----------------------------------------------------------------------------------------------------------


def test_no_cell_of_a_chart_starts_a_formula() -> None:
    table = Table(("fan", "=m"), (('=HYPERLINK("x")', "−1.5"), ("@x", "2"), ("plain", "3")), frozenset({1}))
    assert table.as_csv().splitlines() == ["fan,'=m", '"\'=HYPERLINK(""x"")",-1.5', "'@x,2", "plain,3"]


def test_hashes_of_a_release_are_those_of_its_bytes(copied: Path) -> None:
    release: Release = read_release(copied, "spring")
    for path, told in release.manifest.items():
        assert hashlib.sha256((release.folder / path).read_bytes()).hexdigest() == told["sha256"]


# --- what is asked ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("told", ["0 %", "100 %", "500 %"])
def test_a_margin_that_decides_nothing_or_everything_is_refused(told: str) -> None:
    with pytest.raises(BadInput, match="margin of airflow"):
        margin_in(told, measure_named("airflow"))
    assert margin_in("5 %", measure_named("airflow")).size == pytest.approx(0.05)


def test_a_number_without_end_is_no_setting() -> None:
    with pytest.raises(BadInput, match="measure to publish"):
        asked_from(f"airflow at {'9' * 400} dBA")


def test_the_same_measure_twice_is_published_once(frozen: Path) -> None:
    with Lab(frozen) as lab:
        found = gather(lab, "twice", measures=("free-airflow", " free-airflow "))
    assert [each.slug for each in found.published] == ["free-airflow"]
