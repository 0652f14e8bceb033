"""Bringing files in: understand everything first, then keep the originals, then write one transaction."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath
from typing import Any

from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.book import Book, open_book
from stillroom.lab.naming import Naming, name_files
from stillroom.readers.cells import Cell
from stillroom.readers.layout import Layout
from stillroom.readers.overrides import is_layout_key
from stillroom.readers.recording import READER_VERSION, Recording, read
from stillroom.readers.rigs import read_rigs
from stillroom.readers.source import Source
from stillroom.readers.tables import TableKind, read_table, table_kind
from stillroom.readers.understanding import Understanding, understand
from stillroom.records.acts import SavedLayout, Taken
from stillroom.records.bench import Nozzle
from stillroom.records.fields import Column, as_json, columns, from_json
from stillroom.records.kinds import KINDS, TABLES
from stillroom.store import journal, originals
from stillroom.store.files import sha256_of
from stillroom.store.journal import Note
from stillroom.store.lab import Lab, now

ENDINGS = (".csv", ".tsv", ".txt", ".dat", ".xlsx", ".toml")
LARGEST_FOLDER = 100_000
Ask = Callable[[str], bool]
"""Asks a question at the terminal; a lab without a terminal has none."""


@dataclass(frozen=True)
class Added:
    """What `add` did, or would do.

    Parameters
    ----------
    new, again, known : measurement files that are new, read anew, and already there.
    records : {kind: number of records written}. left_out : {file: why}. understood : words by file.
    names : what the names pattern says, or "". marks : what nobody told.
    """

    new: tuple[str, ...] = ()
    again: tuple[str, ...] = ()
    known: tuple[str, ...] = ()
    records: dict[str, int] = field(default_factory=dict)
    left_out: dict[str, str] = field(default_factory=dict)
    understood: dict[str, tuple[str, ...]] = field(default_factory=dict)
    names: str = ""
    marks: tuple[str, ...] = ()


@dataclass(frozen=True)
class _File:
    """One file to bring in: its name in the lab (from the folder that was given), and its bytes."""

    name: str
    source: Source


@dataclass
class _Batch:
    """What has been understood so far."""

    records: list[tuple[Any, str, str]] = field(default_factory=list)  # record, file, place
    measured: list[tuple[_File, Understanding, Recording]] = field(default_factory=list)
    files: list[_File] = field(default_factory=list)
    left_out: dict[str, str] = field(default_factory=dict)


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
    batch = _understand_all(_files(paths), told)
    kept = [record for record, _, _ in batch.records]
    _check_nozzles(book, batch)
    naming = name_files(
        book, kept, [(file.name, seen.kind.value) for file, seen, _ in batch.measured], told, ask
    )
    if preview:
        return _preview(batch, naming)
    if save_layout:
        batch.records.append((SavedLayout(layout=save_layout, reading=dict(said)), "", ""))
    if naming.pattern and naming.remember:
        remembered = SavedLayout(layout="names", reading={"names": naming.pattern})
        batch.records.append((remembered, "", ""))
    return _write(lab, batch, naming)


def _check_nozzles(book: Book, batch: _Batch) -> None:
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


def _files(paths: Sequence[Path]) -> list[_File]:
    """All files under the paths; a folder's files carry the folder's own name before theirs."""
    if not paths:
        raise BadInput("add", found="no path", expected="files or folders to bring in")
    found: list[_File] = []
    for path in paths:
        if path.is_dir():
            base = path.resolve()
            inside = sorted(each for each in base.rglob("*") if each.is_file())
            if len(inside) > LARGEST_FOLDER:
                raise BadInput("folder", place=str(path), found=f"{len(inside):,} files", expected="fewer")
            shown = [each for each in inside if not _hidden(each.relative_to(base))]
            found += [_file(each, f"{base.name}/{each.relative_to(base).as_posix()}") for each in shown]
        elif path.exists():
            found.append(_file(path, _given_name(path)))
        else:
            raise BadInput("file", place=str(path), found="nothing there", expected="a file or a folder")
    return found


def _given_name(path: Path) -> str:
    """A single file's name in the lab: its path as it was given, where that leads downwards."""
    downwards = not path.is_absolute() and ".." not in path.parts
    return path.as_posix() if downwards else path.name


def _hidden(path: Path) -> bool:
    return any(part.startswith(".") for part in path.parts)


def _file(path: Path, name: str) -> _File:
    return _File(name, Source.of_path(path, name))


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


def _understand_all(files: Sequence[_File], told: Mapping[str, str]) -> _Batch:
    batch = _Batch()
    reading = {key: value for key, value in told.items() if is_layout_key(key)}
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
        elif kind := table_kind(file.source, kinds):
            batch.records += _table(file, KINDS[kind], kinds)
        else:
            seen = understand(file.source, reading)
            batch.measured.append((file, seen, read(file.source, seen.layout)))
    return batch


def _rigs(file: _File) -> list[tuple[Any, str, str]]:
    found = []
    for entry in read_rigs(file.source):
        record = KINDS[entry.kind]
        known = {each.field for each in columns(record)}
        body = {name: value for name, value in entry.fields.items() if name in known}
        found.append((from_json(record, body), file.name, entry.place))
    return found


def _table(file: _File, record: type[Any], kinds: Sequence[TableKind]) -> list[tuple[Any, str, str]]:
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
        return cell.number(column.unit if column.unit != "1" or column.shown != "1" else "1")
    if column.type == "whole":
        return cell.whole()
    if column.type == "yes-no":
        return cell.yes_no()
    return cell.names() if column.type == "names" else cell.text


def _preview(batch: _Batch, naming: Naming) -> Added:
    return Added(
        records=_count(batch),
        left_out=batch.left_out,
        understood={file.name: seen.words for file, seen, _ in batch.measured},
        names=naming.words,
        marks=naming.marks,
    )


def _count(batch: _Batch) -> dict[str, int]:
    counted: dict[str, int] = {}
    for record, _, _ in batch.records:
        counted[record.kind] = counted.get(record.kind, 0) + 1
    return counted


def _write(lab: Lab, batch: _Batch, naming: Naming) -> Added:
    """Keep the originals first, then write all entries in one transaction.

    What another program has brought in meanwhile is seen inside the transaction, and not written twice.
    """
    date = now()[:10]
    kept = _keep_originals(lab, batch, date)
    with lab.writing():
        already = kept | journal.originals_known(lab.database)
        notes = _original_notes(lab, batch, already)
        places = {file.name: already[file.source.sha256] for file in batch.files}
        written, changed = _record_notes(lab, batch, places)
        added = _taken_notes(lab.current(Taken), batch, naming, already, date)
        lab.append([*notes, *written, *added.notes])
    return Added(
        new=tuple(added.new),
        again=tuple(added.again),
        known=tuple(added.known),
        records=changed,
        left_out=batch.left_out,
        names=naming.words,
        marks=naming.marks,
    )


def _keep_originals(lab: Lab, batch: _Batch, date: str) -> dict[str, str]:
    """Keep what the journal doesn't know, {SHA-256: place}; what an interrupted run has kept is used."""
    known = journal.originals_known(lab.database)
    new = {file.source.sha256: file for file in batch.files if file.source.sha256 not in known}
    if not new:
        return {}
    left = originals.orphans(lab.path, known.values())
    places = {sha256_of(lab.path / place): place for place in left}
    for digest, file in new.items():
        if digest not in places:
            name = PurePosixPath(file.name).name
            places[digest] = originals.keep(lab.path, file.source.content(), name, date)
    originals.settle_names(lab.path, places.values())
    return places


def _original_notes(lab: Lab, batch: _Batch, places: Mapping[str, str]) -> list[Note]:
    known = journal.originals_known(lab.database)
    new = {file.source.sha256: file for file in batch.files if file.source.sha256 not in known}
    return [
        Note(journal.ORIGINAL, digest, {"file": file.name, "bytes": file.source.size}, places[digest])
        for digest, file in new.items()
    ]


def _record_notes(lab: Lab, batch: _Batch, places: Mapping[str, str]) -> tuple[list[Note], dict[str, int]]:
    """Notes for the records that say something new."""
    standing: dict[str, dict[str, Any]] = {}
    notes: list[Note] = []
    changed: dict[str, int] = {}
    for record, file, place in batch.records:
        there = standing.setdefault(record.kind, lab.current(type(record)))
        if there.get(record.name) == record:
            continue
        there[record.name] = record
        original = f"{places[file]} ({place})" if file else ""
        notes.append(Note(record.kind, record.name, as_json(record), original))
        changed[record.kind] = changed.get(record.kind, 0) + 1
    return notes, changed


@dataclass
class _TakenNotes:
    notes: list[Note] = field(default_factory=list)
    new: list[str] = field(default_factory=list)
    again: list[str] = field(default_factory=list)
    known: list[str] = field(default_factory=list)


def _taken_notes(
    standing: dict[str, Taken], batch: _Batch, naming: Naming, already: Mapping[str, str], date: str
) -> _TakenNotes:
    made = _TakenNotes()
    for file, seen, recording in batch.measured:
        record = _taken(file, seen, recording, naming.said.get(file.name, {}), already, date)
        before = standing.get(record.sha256)
        if before is not None:
            record = replace(record, file=before.file, place=before.place, date=before.date,
                             said=record.said or before.said)  # fmt: skip
        if before == record:
            made.known.append(file.name)
            continue
        (made.again if before else made.new).append(file.name)
        standing[record.sha256] = record
        made.notes.append(Note(record.kind, record.name, as_json(record), record.place))
    return made


def _taken(
    file: _File,
    seen: Understanding,
    recording: Recording,
    said: Mapping[str, str],
    already: Mapping[str, str],
    date: str,
) -> Taken:
    layout: Layout = seen.layout
    names = dict.fromkeys(name for each in recording.nozzles for name in each)
    return Taken(
        sha256=file.source.sha256,
        file=file.name,
        place=already[file.source.sha256],
        date=date,
        layout=layout.to_dict(),
        reader=f"table {READER_VERSION}",
        content=seen.kind.value,
        quantities=tuple(recording.columns),
        nozzles=tuple(names) or None,
        points=len(recording),
        said=dict(said) or None,
    )
