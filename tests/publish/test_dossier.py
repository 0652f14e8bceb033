"""A dossier from end to end: what it holds, and that no other fan is in any byte of it."""

from __future__ import annotations

import csv
import io
import re
import shutil
import zipfile
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, cast

import pytest
from pypdf import PdfReader
from test_dossier_parts import SECRET, exif, jpeg, png

from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.publish.dossier import Dossier, Material, material_of, write_dossier
from stillroom.publish.standing_words import value_words
from stillroom.records.settings import template
from stillroom.store import folder as folders
from stillroom.store.lab import Lab
from stillroom.verbs.dossiers import _place, dossier

FAN = "Sedge"
SHARED = "p_s [Pa],Q [m³/h],n [rpm],fan,sample,duty [%]"
RIVAL_PICTURE = png((b"PLTE", b"\x01\x02\x03"))


@dataclass(frozen=True)
class Made:
    """A dossier of a lab with a file that several fans share, photos, and a dispute that speaks of a rival."""

    material: Material
    dossier: Dossier
    own_rows: list[tuple[str, str]]
    rival_rows: list[tuple[str, str]]

    @property
    def folder(self) -> Path:
        return self.dossier.folder

    @property
    def rivals(self) -> set[str]:
        return set(self.material.book.fans) - {FAN}

    @cached_property
    def texts(self) -> dict[str, str]:
        """Every file as text: the pages of the PDF, the entries of the archive, all bytes of the others."""
        found: dict[str, str] = {}
        for name in self.dossier.files:
            path = self.folder / name
            if path.suffix == ".pdf":
                reader = PdfReader(path)
                words = [page.extract_text() for page in reader.pages]
                found[name] = "\n".join([*words, str(reader.metadata), path.read_bytes().decode("latin-1")])
            elif path.suffix == ".zip":
                with zipfile.ZipFile(path) as archive:
                    for entry in archive.namelist():
                        found[f"{name}/{entry}"] = f"{entry}\n{archive.read(entry).decode()}"
            else:
                found[name] = path.read_bytes().decode("utf-8", "replace")
        return found


@pytest.fixture(scope="module")
def made(published_lab: Path, tmp_path_factory: pytest.TempPathFactory) -> Made:
    home = tmp_path_factory.mktemp("dossier")
    path = Path(shutil.copytree(published_lab, home / "lab"))
    own, rival = rows(FAN, 1.0), rows("Bracken", 1.01)
    lines = [f"{p},{q},1740,{fan},s1,100" for fan, of in ((FAN, own), ("Bracken", rival)) for p, q in of]
    put(home / "in" / "shared.csv", "\n".join([SHARED, *lines, ""]).encode())
    put(home / "in" / "Sedge s1 label.jpg", jpeg(exif(6, "<")) + SECRET)
    put(home / "in" / "Sedge s1 front.png", png())
    put(home / "in" / "Bracken s1.png", RIVAL_PICTURE)
    put(home / "in" / "disputes.csv", b"fan,measure,since,by,text,reply,reply date\n"
        b"Sedge,airflow through rad27,2026-11-20,Quillmoor,Bracken of Fennock had a better seal,"
        b"The seal was the same,2026-11-22\n")  # fmt: skip
    with Lab(path) as lab:
        bring_in(lab, [home / "in"], {"rig": "old"}).refuse_bad()
        material = material_of(lab, "SEDGE", date="2026-11-26")
        written = write_dossier(material, home / "out")
        again = write_dossier(material, home / "again")
    assert [(home / "out" / each).read_bytes() for each in written.files] == [
        (home / "again" / each).read_bytes() for each in again.files
    ], "the same lab gives the same bytes"
    return Made(material, written, own, rival)


def rows(fan: str, share: float) -> list[tuple[str, str]]:
    """Readings with digits that no other fan has."""
    tail = len(fan)
    return [(f"{20.0 - 2.0 * at:.1f}{tail}71", f"{10.0 * at * share:.2f}{tail}93") for at in range(11)]


def put(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)


@pytest.mark.slow
def test_no_other_fan_and_no_other_maker_is_in_any_byte(made: Made) -> None:
    makers = {each.maker or "" for each in made.material.book.fans.values()} - {"Quillmoor"}
    names = {each.casefold() for each in (*made.rivals, *makers) if each}
    assert {"bracken", "fennock"} <= names
    for name, text in made.texts.items():
        plain = text.casefold()
        assert not [each for each in names if each in plain], name
    assert "another fan of another maker had a better seal" in made.texts["dossier.html"]


@pytest.mark.slow
def test_no_value_of_another_fan_is_given(made: Made) -> None:
    texts = {name: re.sub(r"\s+", " ", text) for name, text in made.texts.items()}
    cells = [cell for pair in made.rival_rows for cell in pair]
    others = [
        value_words(each, published.ranking.unit)
        for published in made.material.published
        for each in published.ranking.standings
        if each.fan != FAN
    ]
    assert len(others) > 14
    own = texts["dossier.pdf"] + texts["dossier.html"]
    for published in made.material.published:
        for each in published.ranking.standings:
            if each.fan == FAN:
                assert re.sub(r"\s+", " ", value_words(each, published.ranking.unit)) in own
    for name, text in texts.items():
        assert not [each for each in others if re.sub(r"\s+", " ", each) in text], name
        assert not [each for each in cells if each in text], name
    pixels = RIVAL_PICTURE
    assert not [each for each in made.dossier.files if pixels in (made.folder / each).read_bytes()]


@pytest.mark.slow
def test_a_file_that_several_fans_share_is_cut_to_this_fan(made: Made) -> None:
    shared = next(run for run in made.material.runs if run.taken.file.endswith("shared.csv"))
    with zipfile.ZipFile(made.folder / "raw.zip") as archive:
        (name,) = [each for each in archive.namelist() if shared.run in each]
        read = list(csv.reader(io.StringIO(archive.read(name).decode())))
        assert len(archive.namelist()) == made.dossier.tables
    head, body = read[0], read[1:]
    assert head == ["line", "p_s [Pa]", "Q [m³/h]", "n [rpm]", "fan", "sample", "duty [%]"]
    assert [tuple(each[1:3]) for each in body] == made.own_rows
    assert [each[0] for each in body] == [str(line) for line in range(2, 13)]
    assert {each[4] for each in body} == {FAN}


@pytest.mark.slow
def test_photos_come_without_their_cameras_notes(made: Made) -> None:
    photos = [made.folder / each for each in made.dossier.files if each.startswith("photos/")]
    assert len(photos) == made.dossier.photos == len(made.material.photos_of())
    assert png() in {each.read_bytes() for each in photos}
    (label,) = (each.read_bytes() for each in photos if each.suffix == ".jpg")
    assert label.startswith(b"\xff\xd8\xff\xe1"), "its orientation is kept"
    assert SECRET not in b"".join((made.folder / each).read_bytes() for each in made.dossier.files)
    page = made.texts["dossier.html"]
    assert page.count("<image ") == made.dossier.photos
    assert "Photo of Sedge, sample s1" in page


@pytest.mark.slow
def test_it_tells_samples_runs_instruments_findings_and_the_dispute(made: Made) -> None:
    text = re.sub(r"\s+", " ", made.texts["dossier.pdf"])
    sample = made.material.samples["s1"]
    assert sample is not None
    for word in (sample.lot, sample.shop, sample.bought, "gauge-static", "Reynolds", "excluded, see below",
                 "standard uncertainty", "not registered", "under dispute since 2026-11-20 by Quillmoor",
                 "The seal was the same"):  # fmt: skip
        assert word, "told by the demo"
        assert word.casefold() in text.casefold()
    assert re.search(r"fan \d of 6", text)
    for run in made.material.runs:
        assert run.run in text


@pytest.mark.slow
def test_its_pdf_is_for_everybody(made: Made) -> None:
    reader = PdfReader(made.folder / "dossier.pdf")
    root = cast(dict[str, Any], reader.trailer["/Root"])
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"].startswith("en")
    assert reader.metadata is not None
    assert reader.metadata.title == "Dossier: Sedge"


# --- without a finished lab ----------------------------------------------------------------------------------------


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    folders.make(tmp_path / "lab", template("Test"))
    return tmp_path / "lab"


CHEEKY = "../../../evil\\..\\x"


def measured(path: Path, fan: str) -> None:
    lines = [f"{20.0 - 2.0 * at:.1f},{10.0 * at:.1f},1500" for at in range(11)]
    put(path.parent / "sweep.csv", "\n".join(["p_s [Pa],Q [m³/h],n [rpm]", *lines, ""]).encode())
    with Lab(path) as lab:
        bring_in(lab, [path.parent / "sweep.csv"], {"fan": fan, "sample": "s1", "duty": "100"}).refuse_bad()


def test_a_cheeky_name_stays_inside(bare: Path) -> None:
    measured(bare, CHEEKY)
    before = {each for each in bare.parent.parent.rglob("*") if bare not in each.parents}
    said = dossier(CHEEKY, lab=bare)
    folder = Path(str(said.data["folder"]))
    assert folder.parent == bare / "dossiers"
    assert re.fullmatch(r"fan-[a-z0-9-]+-\d{4}-\d\d-\d\d", folder.name)
    assert {each for each in bare.parent.parent.rglob("*") if bare not in each.parents} == before
    assert set(said.data["files"]) == {"dossier.html", "dossier.pdf", "raw.zip"}


def test_a_second_dossier_of_a_day_stands_beside_the_first(bare: Path) -> None:
    first = _place(bare, FAN, "2026-03-01")
    first.mkdir(parents=True)
    assert _place(bare, FAN, "2026-03-01").name == f"{first.name}-2"


def test_a_fan_that_nobody_measured_still_has_a_dossier(bare: Path) -> None:
    put(bare.parent / "fans.csv", b"fan,maker\nSedge,Quillmoor\nBracken,Fennock\n")
    with Lab(bare) as lab:
        bring_in(lab, [bare.parent / "fans.csv"], {}).refuse_bad()
        made = write_dossier(material_of(lab, FAN, date="2026-03-01"), bare.parent / "out")
    assert made.files == ("dossier.html", "dossier.pdf")
    page = (bare.parent / "out" / "dossier.html").read_text(encoding="utf-8")
    for words in (
        "No photo is kept of it.",
        "The fan stands in no comparison.",
        "Nothing was measured of it.",
    ):
        assert words in page


def test_an_unknown_fan_is_named_with_those_that_there_are(bare: Path) -> None:
    measured(bare, FAN)
    with pytest.raises(UnknownThing, match="Sedge"):
        dossier("Nettle", lab=bare)
    assert not (bare / "dossiers").exists()


def test_what_is_there_already_is_never_written_over(bare: Path) -> None:
    measured(bare, FAN)
    put(bare.parent / "out" / "mine.txt", b"mine")
    with pytest.raises(BadInput, match="something of that name"):
        dossier(FAN, out=bare.parent / "out", lab=bare)
    assert (bare.parent / "out" / "mine.txt").read_bytes() == b"mine"


def test_a_dossier_that_fails_leaves_nothing(bare: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    measured(bare, FAN)
    with Lab(bare) as lab:
        place = next(iter(open_book(lab).taken.values())).place
        material = material_of(lab, FAN, date="2026-03-01")
        (bare / place).chmod(0o644)
        (bare / place).write_bytes(b"p_s [Pa]\n1\n")
        with pytest.raises(Exception, match="original"):
            write_dossier(material, bare.parent / "out" / "here")
    assert not list((bare.parent / "out").iterdir())
