"""Bringing files in: everything is understood before anything is written."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any

from stillroom.errors import BadInput, UnknownThing, UnreadableFile
from stillroom.lab.batch import Added, Batch, File
from stillroom.lab.book import Book, open_book
from stillroom.lab.entering import write_batch
from stillroom.lab.naming import Naming, name_files
from stillroom.readers.cells import Cell
from stillroom.readers.kinds import Kind
from stillroom.readers.layout import Layout
from stillroom.readers.overrides import is_layout_key
from stillroom.readers.recording import Recording, read
from stillroom.readers.rigs import read_rigs
from stillroom.readers.source import Source
from stillroom.readers.tables import TableKind, read_table, table_kind
from stillroom.readers.understanding import Understanding, understand
from stillroom.records.acts import SavedLayout
from stillroom.records.bench import Nozzle
from stillroom.records.fields import Column, columns, from_json
from stillroom.records.kinds import KINDS, TABLES
from stillroom.store.lab import Lab

ENDINGS = (".csv", ".tsv", ".txt", ".dat", ".xlsx", ".toml")
LARGEST_FOLDER = 100_000
Ask = Callable[[str], bool]
"""Asks a question at the terminal; a lab without a terminal has none."""


def bring_in(
    lab: Lab,
    paths: Sequence[Path],
    said: Mapping[str, str],
    *,
    layout: str = "",
    save_layout: str = "",
    preview: bool = False,
    ask: Ask | None = None,
) -> Added:
    """Bring files and folders into the lab, or (with `preview`) only say what was understood.

    Parameters
    ----------
    paths : files and folders. said : what was told by `--as`. layout : a saved reading to start from.
    save_layout : name under which what was told is kept. ask : how to ask at a terminal, None without one.

    Raises
    ------
    StillroomError : anything that can't be understood; the lab is then unchanged.
    """
    book = open_book(lab)
    told = _saved(lab, layout) | dict(said)
    batch = _understand_all(_files(paths), told, book)
    kept = [record for record, _, _ in batch.records]
    _check_nozzles(book, batch)
    speaking = [
        (file.name, seen.kind.value)
        for file, seen, _ in batch.measured
        if told or file.source.sha256 not in book.taken
    ]
    naming = name_files(book, kept, speaking, told, _as_shown if preview else ask)
    if preview:
        return _preview(batch, naming)
    if save_layout:
        batch.records.append((SavedLayout(layout=save_layout, reading=dict(said)), "", ""))
    if naming.pattern and naming.remember:
        remembered = SavedLayout(layout="names", reading={"names": naming.pattern})
        batch.records.append((remembered, "", ""))
    return write_batch(lab, batch, naming)


def _check_nozzles(book: Book, batch: Batch) -> None:
    """Refuse a file that opened a nozzle which no bank has.

    Raises
    ------
    UnknownThing : names the nozzle, the file and the line.
    """
    bank = set(book.nozzles) | {each.name for each, _, _ in batch.records if each.kind == Nozzle.kind}
    for file, _, recording in batch.measured:
        for line, opened in zip(recording.lines, recording.nozzles, strict=False):
            for name in opened:
                if name not in bank:
                    raise UnknownThing(
                        f"nozzle {name!r}",
                        place=f"{file.name}, line {line}",
                        found="no nozzle of that name",
                        expected=", ".join(sorted(bank))
                        or f"a rigs file with a table [nozzle.{name}], added before or with it",
                    )


def _as_shown(_words: str) -> bool:
    """A preview shows what names would mean, and asks nothing."""
    return True


def _files(paths: Sequence[Path]) -> list[File]:
    """All files under the paths; a folder's files carry the folder's own name before theirs."""
    if not paths:
        raise BadInput("add", found="no path", expected="files or folders to bring in")
    found: list[File] = []
    for path in paths:
        if path.is_dir():
            base = path.resolve()
            inside = _inside(base)
            if not inside:
                raise BadInput("folder", place=str(path), found="no file in it", expected="exports or tables")
            if len(inside) > LARGEST_FOLDER:
                raise BadInput("folder", place=str(path), found=f"{len(inside):,} files", expected="fewer")
            shown = [each for each in inside if not _hidden(each.relative_to(base))]
            found += [_file(each, f"{base.name}/{each.relative_to(base).as_posix()}") for each in shown]
        elif path.exists():
            found.append(_file(path, _given_name(path)))
        else:
            raise BadInput("file", place=str(path), found="nothing there", expected="a file or a folder")
    return found


def _inside(folder: Path) -> list[Path]:
    """All files below a folder; a folder that can't be opened is an error, not silence."""

    def refuse(error: OSError) -> None:
        raise UnreadableFile(
            "folder", place=str(error.filename), found=error.strerror or "no entry", expected="one to be read"
        )

    walked = os.walk(folder, onerror=refuse)
    return sorted(
        each for here, _, names in walked for name in names if (each := Path(here) / name).is_file()
    )


def _given_name(path: Path) -> str:
    """A single file's name in the lab: its path as it was given, where that leads downwards."""
    downwards = not path.is_absolute() and ".." not in path.parts
    return path.as_posix() if downwards else path.name


def _hidden(path: Path) -> bool:
    return any(part.startswith(".") for part in path.parts)


def _file(path: Path, name: str) -> File:
    return File(name, Source.of_path(path, name))


def _saved(lab: Lab, layout: str) -> dict[str, str]:
    if not layout:
        return {}
    saved = lab.current(SavedLayout)
    if layout not in saved:
        raise UnknownThing("layout", found=repr(layout), expected=", ".join(saved) or "a saved layout")
    return dict(saved[layout].reading)


def table_kinds() -> tuple[TableKind, ...]:
    """The tables that a lab may bring in, from the records' own fields."""
    return tuple(
        TableKind(
            record.kind,
            tuple(each.header for each in columns(record) if each.required),
            tuple(each.header for each in columns(record) if not each.required),
        )
        for record in TABLES
    )


def _understand_all(files: Sequence[File], told: Mapping[str, str], book: Book) -> Batch:
    reading = {key: value for key, value in told.items() if is_layout_key(key)}
    batch = Batch(reading=bool(reading))
    kinds = table_kinds()
    for file in files:
        ending = PurePosixPath(file.name).suffix.lower()
        if ending not in ENDINGS:
            if len(files) == 1:
                raise BadInput(
                    "file", place=file.name, found=f"ending {ending!r}", expected=", ".join(ENDINGS)
                )
            batch.left_out[file.name] = f"ending {ending or 'none'!r} is none of {', '.join(ENDINGS)}"
            continue
        batch.files.append(file)
        if ending == ".toml":
            batch.records += _rigs(file)
        elif "sheet" not in reading and (kind := table_kind(file.source, kinds)):
            batch.records += _table(file, KINDS[kind], kinds)
        else:
            seen = _understood(file, reading, book)
            recording = read(file.source, seen.layout)
            _check_length(file, recording)
            batch.measured.append((file, seen, recording))
    return batch


def _understood(file: File, reading: Mapping[str, str], book: Book) -> Understanding:
    """What a file holds: as it was understood before, unless something is told now."""
    before = book.taken.get(file.source.sha256)
    if before is None or reading:
        return understand(file.source, reading).blocks[0]
    return Understanding(Layout.from_dict(before.layout, file.name), Kind(before.content), {}, ())


MOST_POINTS = 300
"""Most points of one sweep: each is one steady observation, not one line of a logger."""


def _check_length(file: File, recording: Recording) -> None:
    if len(recording) > MOST_POINTS:
        raise BadInput(
            "measurement file",
            place=file.name,
            found=f"{len(recording):,} rows",
            expected=f"at most {MOST_POINTS} steady points in one sweep: average the log to one row a point",
        )


def _rigs(file: File) -> list[tuple[Any, str, str]]:
    found = []
    for entry in read_rigs(file.source):
        record = KINDS[entry.kind]
        known = {each.field for each in columns(record)}
        body = {name: value for name, value in entry.fields.items() if name in known}
        found.append((from_json(record, body), file.name, entry.place))
    return found


def _table(file: File, record: type[Any], kinds: Sequence[TableKind]) -> list[tuple[Any, str, str]]:
    table = read_table(file.source, kinds, kind=record.kind)
    found = []
    for row, line in zip(table.rows, table.lines, strict=True):
        body = {
            each.field: _cell(each, row[each.header])
            for each in columns(record)
            if each.header in row and not row[each.header].empty
        }
        found.append((from_json(record, body), file.name, f"{file.name}, line {line}"))
    return found


_DATES = ("date", "bought", "due")


def _cell(column: Column, cell: Cell) -> Any:
    """One cell of a table as the value of its field."""
    if column.field in _DATES:
        return cell.date()
    if column.field == "time":
        return cell.time()
    if column.type == "number":
        return cell.number(column.unit)
    if column.type == "whole":
        return cell.whole()
    if column.type == "yes-no":
        return cell.yes_no()
    return cell.names() if column.type == "names" else cell.text


def _preview(batch: Batch, naming: Naming) -> Added:
    return Added(
        records=_count(batch),
        left_out=batch.left_out,
        understood={file.name: seen.words for file, seen, _ in batch.measured},
        names=naming.words,
        marks=naming.marks,
    )


def _count(batch: Batch) -> dict[str, int]:
    counted: dict[str, int] = {}
    for record, _, _ in batch.records:
        counted[record.kind] = counted.get(record.kind, 0) + 1
    return counted
