"""Bringing files in: what can't be understood is named, everything else is written in one transaction."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import count
from pathlib import Path, PurePosixPath
from typing import Any

from stillroom.errors import BadInput, StillroomError, UnknownThing
from stillroom.lab.book import Book, by_path, open_book, place_all
from stillroom.lab.eras.rigs_by_date import refused_changes
from stillroom.lab.executor import Progress, silent
from stillroom.lab.intake import layouts
from stillroom.lab.intake.batch import Added, Ask, Batch, File, Measured
from stillroom.lab.intake.collecting import files_of
from stillroom.lab.intake.emptied import emptied
from stillroom.lab.intake.entering import write_batch
from stillroom.lab.intake.naming import Naming, name_files
from stillroom.lab.intake.pictures_told import keep_pictures
from stillroom.lab.intake.preview import described, runs_in_words
from stillroom.lab.intake.recordings import settle_recordings
from stillroom.lab.intake.understanding import understand_all, with_nothing_added
from stillroom.lab.intake.untold import (
    against_rows,
    marks,
    passed_over,
    rows_against_names,
    rows_for_no_run,
    rows_for_two_files,
    unknown_microphones,
)
from stillroom.lab.intake.withdrawing import withdrawn_files
from stillroom.readers.meaning.overrides import is_layout_key
from stillroom.records.acts import Run, SavedLayout, Taken
from stillroom.records.bench import Instrument, Nozzle
from stillroom.store.lab import Lab, now


def bring_in(
    lab: Lab,
    paths: Sequence[Path],
    said: Mapping[str, str],
    *,
    layout: str = "",
    save_layout: str = "",
    preview: bool = False,
    like_last: bool = False,
    new_mounting: bool = False,
    ask: Ask | None = None,
    progress: Progress = silent,
) -> Added:
    """Bring files and folders into the lab, or (with `preview`) only say what was understood.

    Parameters
    ----------
    paths : files and folders. said : what was told by `--as`.
    layout : a saved layout's name, or a file of one, by which the files are read strictly.
    save_layout : name, or FILE.toml, under which the way of reading is kept.
    like_last : what nobody tells is as it was for the last run. new_mounting : the fan was fitted anew.
    ask : how to ask at a terminal, None without one.

    Returns
    -------
    What came in; the files that could not, each with what is wrong, stand in `bad`.

    Raises
    ------
    StillroomError : nothing could come in, for one reason; the lab is then unchanged.
    """
    added = bring_in_files(
        lab, files_of(paths), said, layout=layout, save_layout=save_layout, preview=preview,
        like_last=like_last, new_mounting=new_mounting, ask=ask, progress=progress,
    )  # fmt: skip
    if len(added.bad) == 1 and not (added.changed or added.known or added.left_out or added.parts):
        raise added.bad[0]
    return added


def bring_in_files(
    lab: Lab,
    files: Sequence[File],
    said: Mapping[str, str],
    *,
    layout: str = "",
    save_layout: str = "",
    preview: bool = False,
    like_last: bool = False,
    new_mounting: bool = False,
    ask: Ask | None = None,
    progress: Progress = silent,
) -> Added:
    """As `bring_in`, of files that were collected already; a bad one never raises, it stands in `bad`."""
    book = open_book(lab)
    record = layouts.chosen(book, layout) if layout else None
    told = (record.reading if record else {}) | dict(said)
    if record is not None and record.tables:
        told = {key: value for key, value in told.items() if not is_layout_key(key) or key in said}
        _refuse_both(said)
    back = withdrawn_files(lab)
    out = {each.name: back[each.source.sha256] for each in files
           if back and not each.alone and each.source.sha256 in back}  # fmt: skip
    files = [each for each in files if each.name not in out]
    batch = understand_all(files, told, book, layout=record, ask=None if preview else ask, progress=progress)
    batch.left_out |= out
    for name, wrong_rig in refused_changes(book, batch.records).items():
        batch.records = [each for each in batch.records if each[1] != name]
        batch.drop(name, wrong_rig)
    _check_nozzles(book, batch)
    extra = {"swap": now()} if new_mounting else {}
    try:
        naming = name_files(
            book,
            [each for each, _, _ in batch.records],
            [each for each in batch.measured if told or extra or not each.before],
            told,
            ask,
            like=like_last_run(book) if like_last else None,
            extra=extra,
            shown=preview,
        )
    except StillroomError:
        if batch.bad:  # a run table that is refused is why nothing tells the fans
            raise with_nothing_added(batch.bad[0], "nothing else was added either") from None
        raise
    rows = _rows(book, batch)
    for name, why in naming.bad.items():
        batch.drop(name, why)
    wrong = (
        *settle_recordings(batch.measured, naming.said, naming.told, rows, None if preview else ask),
        *rows_for_no_run(batch.measured, rows),
        *rows_for_two_files(batch.measured, rows),
        *unknown_microphones(batch.measured, naming.said, rows, naming.told, _instruments(book, batch)),
    )
    for name, why in wrong:
        batch.drop(name, why)
    keep_pictures(batch, book, told, naming.said)
    said_of_them = (
        *emptied(lab, batch.records),
        *(() if preview else passed_over(batch.measured)),
        *against_rows(batch.measured, rows, naming.told),
        *rows_against_names(_runs_of(batch), book.runs, _others(book, batch)),
        *marks(batch.measured, naming.said, rows),
    )
    naming = replace(naming, marks=(*batch.marks, *naming.marks, *said_of_them))
    if preview:
        return _preview(batch, naming, rows, book.settings.units)
    batch.records += _to_keep(book, batch, naming, said, save_layout)
    written = save_layout if layouts.is_file(save_layout) else ""
    return replace(write_batch(lab, batch, naming, rows), shared=written)


def _refuse_both(said: Mapping[str, str]) -> None:
    key = next((key for key in said if is_layout_key(key)), "")
    if key:
        raise BadInput(
            "--as", found=f"{key!r} beside --layout", expected="one of the two: a layout is read strictly"
        )


def like_last_run(book: Book) -> dict[str, str]:
    """Fan, sample, obstacle and rig (and the mounting, where it has a record) as of the run that came in last.

    Raises
    ------
    BadInput : no fan has been measured yet.
    """
    last = next((each for each in reversed(place_all(book)) if each.fan), None)
    if last is None:
        raise BadInput("--like-last", found="no run of a fan in the lab", expected="a first run that is told")
    mounting = last.mounting if last.mounting in book.mountings else ""
    told = {"fan": last.fan, "sample": last.sample, "mounting": mounting, "obstacle": last.obstacle,
            "rig": last.rig}  # fmt: skip
    return {name: value for name, value in told.items() if value}


def _check_nozzles(book: Book, batch: Batch) -> None:
    """Take out the files that opened a nozzle which no bank has: names the nozzle, the file and the line."""
    bank = set(book.nozzles) | {each.name for each, _, _ in batch.records if each.kind == Nozzle.kind}
    for measured in list(batch.measured):
        unknown = next(_nozzles_without_record(measured, bank), None)
        if unknown is not None:
            batch.drop(measured.file.name, unknown)


def _nozzles_without_record(measured: Measured, bank: set[str]) -> Iterator[UnknownThing]:
    for part in measured.parts:
        recording = part.recording
        for line, opened in zip(recording.lines, recording.nozzles, strict=False):
            for name in opened:
                if name not in bank:
                    yield UnknownThing(
                        f"nozzle {name!r}",
                        place=f"{measured.file.name}, line {line}",
                        found="no nozzle of that name",
                        expected=", ".join(sorted(bank))
                        or f"a rigs file with a table [nozzle.{name}], added before or with it",
                    )


def _to_keep(
    book: Book, batch: Batch, naming: Naming, said: Mapping[str, str], save_layout: str
) -> list[tuple[SavedLayout, str, str]]:
    """The layouts to keep: the one that was asked for, what was answered, what the names mean once confirmed."""
    kept: list[SavedLayout] = []
    if naming.remember:
        before = book.layouts.get(layouts.REMEMBERED)
        reading = (before.reading if before else {}) | naming.remember
        kept.append(SavedLayout(layout=layouts.REMEMBERED, reading=reading))
    if not save_layout:
        kept += _answered(book, batch)
    else:
        tables = _tables(batch.measured)
        if layouts.is_file(save_layout):
            layouts.write_shared(Path(save_layout), tables)
        else:
            reading = {key: value for key, value in said.items() if not (tables and is_layout_key(key))}
            kept.append(layouts.saved(save_layout, tables, reading))
    return [(each, "", "") for each in kept]


def _answered(book: Book, batch: Batch) -> list[SavedLayout]:
    """A layout for each shape of file whose units were told at the terminal, named after its first file."""
    shapes: dict[str, Measured] = {}
    for each in batch.measured:
        if each.asked:
            shapes.setdefault(repr([part.layout["columns"] for part in each.parts[:1]]), each)
    kept: list[SavedLayout] = []
    for each in shapes.values():
        stem = PurePosixPath(each.file.name).stem.strip() or "layout"
        taken = {*book.layouts, *(one.layout for one in kept), layouts.REMEMBERED}
        name = next(n for k in count(1) if (n := stem if k == 1 else f"{stem}-{k}") not in taken)
        kept.append(layouts.saved(name, _tables([each]), {}))
    return kept


def _tables(files: Sequence[Measured]) -> list[dict[str, Any]]:
    """The layouts of one file's tables, where all files that came in have the same shape.

    Raises
    ------
    BadInput : they have several shapes; there is no file.
    """
    by_shape: dict[str, tuple[str, list[dict[str, Any]]]] = {}
    for measured in files:
        tables: list[dict[str, Any]] = []
        for part in measured.parts:
            if part.layout not in tables:
                tables.append(part.layout)
        tables = tables or [dict(each.layout) for each in measured.before[:1]]
        by_shape.setdefault(repr([each["columns"] for each in tables]), (measured.file.name, tables))
    if len(by_shape) != 1:
        found = " and ".join(name for name, _ in by_shape.values()) or "no measurement file"
        raise BadInput("--save-layout", found=found, expected="files of one shape")
    return next(iter(by_shape.values()))[1]


def _rows(book: Book, batch: Batch) -> dict[str, list[Run]]:
    """The run table as it will stand, by path."""
    return by_path((dict(book.runs) | {each.name: each for each in _runs_of(batch)}).values())


def _runs_of(batch: Batch) -> list[Run]:
    return [each for each, _, _ in batch.records if isinstance(each, Run)]


def _others(book: Book, batch: Batch) -> list[Taken]:
    """The lab's runs, but those of files that are understood anew."""
    now_read = {each.file.source.sha256 for each in batch.measured if each.parts}
    return [each for each in book.taken.values() if each.sha256 not in now_read]


def _instruments(book: Book, batch: Batch) -> set[str]:
    """The names of the instruments as they will stand."""
    return set(book.instruments) | {each.name for each, _, _ in batch.records if isinstance(each, Instrument)}


def _preview(batch: Batch, naming: Naming, rows: Mapping[str, list[Run]], units: Mapping[str, str]) -> Added:
    return Added(
        records=_count(batch),
        left_out=batch.left_out,
        bad=tuple(batch.bad),
        understood=described(batch.measured, units),
        parts={
            each.file.name: runs_in_words(each, naming.said.get(each.file.name, {}), naming.told, rows)
            for each in batch.measured
        },
        names=naming.words,
        by_layout={each.file.name: each.layout for each in batch.measured if each.layout},
        marks=naming.marks,
    )


def _count(batch: Batch) -> dict[str, int]:
    counted: dict[str, int] = {}
    for record, _, _ in batch.records:
        counted[record.kind] = counted.get(record.kind, 0) + 1
    return counted
