"""Writing a dossier: a document as PDF and page, photos, and the raw excerpt, in one folder or none at all."""

from __future__ import annotations

import shutil
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from stillroom import wording
from stillroom.charts.further_series import Chart
from stillroom.errors import BadInput, StillroomError
from stillroom.lab.executor import Progress, silent
from stillroom.lab.pictures.curve_pictures import curves
from stillroom.lab.pictures.sound.level_pictures import level_chart
from stillroom.measures import Condition
from stillroom.publish.document import Block, Callout, CalloutKind, Document, Grid, Heading, Paragraph
from stillroom.publish.document.as_html import as_html
from stillroom.publish.document.as_pdf import as_pdf
from stillroom.publish.document.figures import figure_of
from stillroom.publish.dossier.decided_parts import dispute_parts, finding_parts
from stillroom.publish.dossier.material import Material
from stillroom.publish.dossier.measured_parts import UNTOLD, instrument_parts, run_parts, sample_parts
from stillroom.publish.dossier.number_parts import claim_parts, number_parts
from stillroom.publish.dossier.photos import LARGEST, Picture, picture_of
from stillroom.publish.dossier.raw_excerpt import FILE, Excerpt, write_raw
from stillroom.publish.unwritten import unwritten
from stillroom.records.publishing import Photo
from stillroom.store import journal, originals
from stillroom.store.files import settle

MOST_SHOWN = 6
"""So many photos stand in the document; all lie beside it."""

PHOTOS = "photos"


@dataclass(frozen=True)
class Dossier:
    """A dossier that was written.

    Parameters
    ----------
    folder : in which it lies. files : relative to it. photos, tables, recordings : how many of each it holds or names.
    """

    folder: Path
    files: tuple[str, ...]
    photos: int
    tables: int
    recordings: int


def write_dossier(material: Material, folder: Path, progress: Progress = silent) -> Dossier:
    """Write all that the laboratory has of one fan into a new folder; nothing of it is there before all of it is.

    Parameters
    ----------
    folder : to be made; there must be nothing of that name yet.

    Raises
    ------
    BadInput : there is something of that name, or it can't be written. LabDamaged : an original is missing or changed.
    """
    if folder.exists() or folder.is_symlink():
        raise BadInput("dossier", place=str(folder), found="something of that name", expected="a new folder")
    beside = folder.parent / f".{uuid.uuid4().hex}.part"
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        beside.mkdir()
        made = _fill(material, beside, progress)
        beside.rename(folder)
    except OSError as error:
        raise unwritten("dossier", error, folder, BadInput) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    settle(folder.parent)
    return replace(made, folder=folder)


def _fill(material: Material, folder: Path, progress: Progress) -> Dossier:
    progress("dossier", 0, 3)
    pictures = _write_photos(material, folder)
    excerpts = write_raw(material.whole.lab, material.runs, material.veil, folder)
    progress("dossier", 1, 3)
    document = _document(material, pictures, excerpts)
    page = folder / "dossier.html"
    page.write_text(as_html(document), encoding="utf-8", newline="\n")
    progress("dossier", 2, 3)
    as_pdf(document, folder / "dossier.pdf")
    progress("dossier", 3, 3)
    files = sorted(each.relative_to(folder).as_posix() for each in folder.rglob("*") if each.is_file())
    heard = sum("audio" in each.taken.layout for each in material.runs)
    return Dossier(folder, tuple(files), len(pictures), len(excerpts), heard)


# --- photos and pictures ---------------------------------------------------------------------------------------------


def _write_photos(material: Material, folder: Path) -> list[tuple[Photo, str, Picture]]:
    """The photos without their cameras' notes, each under a name that tells nothing but its number."""
    places = journal.originals_known(material.whole.lab.database)
    made = []
    for number, photo in enumerate(material.photos_of(), start=1):
        data = originals.data_of(material.whole.lab.path, places[photo.sha256], photo.sha256)
        try:
            picture = picture_of(data, photo.file)
        except StillroomError:
            continue  # a damaged picture has nothing to show; the document counts those that are shown
        name = f"{PHOTOS}/{number:02d}{picture.ending}"
        (folder / PHOTOS).mkdir(exist_ok=True)
        (folder / name).write_bytes(picture.as_file)
        made.append((photo, name, picture))
    return made


def _photo_parts(material: Material, pictures: list[tuple[Photo, str, Picture]]) -> Iterator[Block]:
    yield Heading(1, "Photos")
    told = len(material.photos_of())
    if not pictures:
        yield Paragraph("No photo is kept of it." if not told else "No photo of it could be read.")
        return
    if len(pictures) < told:
        yield Callout(CalloutKind.NOTE, f"{wording.plural(told - len(pictures), 'photo')} could not be read.")
    shown = [each for each in pictures if len(each[2].data) <= LARGEST][:MOST_SHOWN]
    for photo, name, picture in shown:
        sample = f", sample {photo.sample}" if photo.sample else ""
        yield picture.figure(f"Photo of {material.fan}{sample}", f"{name}: {material.fan}{sample}")
    if len(shown) < len(pictures):
        yield Paragraph(f"All {len(pictures)} photos lie in the folder {PHOTOS}.")


def _curve_parts(material: Material) -> Iterator[Block]:
    """Its PQ curve and its level against speed; what can't be drawn is said."""
    yield Heading(1, "Curves")
    lab, book, graph, _ = material.whole
    through = dict.fromkeys(each.asked.condition.obstacle for each in material.published)
    obstacles = tuple(each for each in through if each)
    draw: dict[str, Callable[[], Chart]] = {
        "PQ curve": lambda: curves(lab, book, graph, (), material.fan, obstacles, Condition())[0],
        "level against speed": lambda: level_chart(
            lab, book, graph, material.fan, (), next(iter(obstacles), ""), ()
        )[0],
    }
    for name, chart in draw.items():
        try:
            yield figure_of(chart())
        except StillroomError as error:
            yield Paragraph(material.veil.over(f"No {name} is drawn: {error.sentence()}."))


# --- the document ----------------------------------------------------------------------------------------------------


def _document(
    material: Material, pictures: list[tuple[Photo, str, Picture]], excerpts: list[Excerpt]
) -> Document:
    settings, record = material.book.settings, material.book.fans.get(material.fan)
    about = " ".join(each for each in (record.maker, record.model) if each) if record else ""
    blocks: list[Block] = [
        *dispute_parts(material),
        Paragraph(_PREFACE),
        *sample_parts(material),
        *_photo_parts(material, pictures),
        *_curve_parts(material),
        *number_parts(material),
        *claim_parts(material),
        *run_parts(material),
        *instrument_parts(material),
        *finding_parts(material),
        *_raw_parts(material, excerpts),
    ]
    return Document(
        title=f"Dossier: {material.fan}",
        subtitle=about or "maker and model not told",
        date=material.date,
        blocks=tuple(blocks),
        footer=f"{settings.name} · dossier of {material.fan} · {material.date}",
    )


_PREFACE = (
    "All that the laboratory has of this fan: where its samples come from, each run with its conditions, what was found"
    " and decided, and the raw readings. In brackets stand 95 % intervals. Other fans are not named here, nor are their"
    " numbers given."
)


def _raw_parts(material: Material, excerpts: list[Excerpt]) -> Iterator[Block]:
    """Where the raw rows lie, and by which digest each original can be known; recordings are named, not enclosed."""
    yield Heading(1, "Raw readings")
    over = material.veil.over
    if excerpts:
        yield Paragraph(
            f"{FILE} holds the raw cells of {wording.plural(len(excerpts), 'run')}, as they stand in the originals:"
            " the columns that were read, and the rows of this fan alone."
        )
        rows = tuple(
            (each.name, over(each.run.taken.words), f"{each.lines[0]} to {each.lines[1]}", str(each.rows),
             each.run.taken.sha256[:16])
            for each in excerpts
        )  # fmt: skip
        yield Grid(
            ("in the archive", "original", "lines", "rows", "SHA-256 of the original"), rows, right=(3,)
        )
    heard = [each for each in material.runs if "audio" in each.taken.layout]
    if heard:
        yield Paragraph(
            "Sound recordings are large and lie in the laboratory; they are handed over on request."
        )
        told = tuple(
            (over(each.taken.words), each.told_date or UNTOLD, each.taken.sha256[:16]) for each in heard
        )
        yield Grid(("recording", "day", "SHA-256 of the original"), told)
    if not excerpts and not heard:
        yield Paragraph("Nothing was measured of it.")
