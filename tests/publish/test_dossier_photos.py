"""Pictures of fans as they come in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from stillroom.errors import BadInput
from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder, journal
from stillroom.store.lab import Lab

PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 20
FANS = "fan,maker\nHeath,Fennock\nHeath Pro,Fennock\nSedge,Quillmoor\n"


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    folder.make(tmp_path / "lab", template("Test"))
    with Lab(tmp_path / "lab") as opened:
        yield opened


def put(path: Path, data: bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("name", "fan", "sample"),
    [
        ("Sedge/s2/label.png", "Sedge", "s2"),
        ("SEDGE_front.png", "Sedge", None),
        ("heath-pro s1.png", "Heath Pro", "s1"),
        ("heath_sample 3 back.PNG", "Heath", "s3"),
    ],
)
def test_a_picture_tells_its_fan_and_sample_by_its_name(
    lab: Lab, tmp_path: Path, name: str, fan: str, sample: str | None
) -> None:
    put(tmp_path / "in" / "fans.csv", FANS.encode())
    put(tmp_path / "in" / "pictures" / name, PNG + name.encode())
    added = bring_in(lab, [tmp_path / "in"], {})
    assert added.records == {"fan": 3, "photo": 1}
    (photo,) = open_book(lab).photos.values()
    assert (photo.fan, photo.sample) == (fan, sample)
    place = journal.originals_known(lab.database)[photo.sha256]
    assert (lab.path / place).read_bytes() == PNG + name.encode()
    assert not bring_in(lab, [tmp_path / "in"], {}).changed


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("front.png", PNG, "no fan of the lab in its name"),
        ("Sedge beside Heath.png", PNG, "the names of Heath and Sedge"),
        ("Sedge.jpg", b"not really", "other bytes"),
        ("Sedgewick.png", PNG, "no fan of the lab in its name"),
    ],
)
def test_a_picture_that_tells_no_fan_stays_outside_and_is_named(
    lab: Lab, tmp_path: Path, name: str, data: bytes, words: str
) -> None:
    put(tmp_path / "in" / "fans.csv", FANS.encode())
    put(tmp_path / "in" / name, data)
    added = bring_in(lab, [tmp_path / "in"], {})
    assert words in added.left_out[f"in/{name}"]
    assert not open_book(lab).photos
    with pytest.raises(BadInput, match=words):
        bring_in(lab, [tmp_path / "in" / name], {})


def test_a_picture_may_be_told_by_hand(lab: Lab, tmp_path: Path) -> None:
    bring_in(lab, [put(tmp_path / "fans.csv", FANS.encode())], {})
    bring_in(lab, [put(tmp_path / "front.png", PNG)], {"fan": "Sedge", "sample": "s1"}).refuse_bad()
    (photo,) = open_book(lab).photos.values()
    assert (photo.fan, photo.sample, photo.file) == ("Sedge", "s1", "front.png")


SWEEP = "p_s [Pa],Q [m³/h],n [rpm]\n" + "".join(f"{20 - 2 * at},{10 * at},1500\n" for at in range(11))


def test_a_picture_comes_in_with_the_first_files_of_its_fan(lab: Lab, tmp_path: Path) -> None:
    put(tmp_path / "exp" / "alder" / "s1" / "100pct.csv", SWEEP.encode())
    put(tmp_path / "exp" / "alder" / "s1" / "front.jpg", b"\xff\xd8\xff" + PNG)
    told = {"names": "{fan}/{sample}/{duty}pct"}
    assert bring_in(lab, [tmp_path / "exp"], told, preview=True).records == {"photo": 1}
    added = bring_in(lab, [tmp_path / "exp"], told)
    assert (added.records["photo"], added.left_out, added.bad) == (1, {}, ())
    (photo,) = open_book(lab).photos.values()
    assert (photo.fan, photo.sample) == ("alder", "s1")


def test_a_picture_is_written_as_the_lab_writes_its_fan(lab: Lab, tmp_path: Path) -> None:
    bring_in(lab, [put(tmp_path / "fans.csv", b"fan,maker\nAlder,Fennock\n")], {})
    put(tmp_path / "exp" / "ALDER" / "s1" / "100pct.csv", SWEEP.encode())
    put(tmp_path / "exp" / "ALDER" / "s1" / "front.png", PNG)
    bring_in(lab, [tmp_path / "exp"], {"names": "{fan}/{sample}/{duty}pct"}).refuse_bad()
    (photo,) = open_book(lab).photos.values()
    assert photo.fan == "Alder"


@pytest.mark.parametrize(
    ("name", "fan", "sample"),
    [
        ("sedge/s2/front.png", "Sedge", "s2"),
        ("Heath/Sedge/s1/photos/front.png", "Sedge", "s1"),
        ("s3/Heath/front.png", "Heath", None),
        ("Sedge/s2/heath.png", "Heath", None),
    ],
)
def test_a_single_picture_is_told_by_the_nearest_folder_that_names_a_fan(
    lab: Lab, tmp_path: Path, name: str, fan: str, sample: str | None
) -> None:
    bring_in(lab, [put(tmp_path / "fans.csv", FANS.encode())], {})
    bring_in(lab, [put(tmp_path / name, PNG)], {}).refuse_bad()
    (photo,) = open_book(lab).photos.values()
    assert (photo.fan, photo.sample) == (fan, sample)


def test_a_fan_far_above_a_picture_tells_nothing(lab: Lab, tmp_path: Path) -> None:
    bring_in(lab, [put(tmp_path / "fans.csv", FANS.encode())], {})
    with pytest.raises(BadInput, match="no fan of the lab"):
        bring_in(lab, [put(tmp_path / "Sedge" / "a" / "b" / "c" / "front.png", PNG)], {})
