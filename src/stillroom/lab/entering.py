"""Writing what was brought in: the originals first, then all entries in one transaction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import PurePosixPath
from typing import Any

from stillroom.lab.batch import Added, Batch, File
from stillroom.lab.naming import Naming
from stillroom.readers.layout import Layout
from stillroom.readers.recording import READER_VERSION, Recording
from stillroom.readers.understanding import Understanding
from stillroom.records.acts import Taken
from stillroom.records.fields import as_json
from stillroom.store import journal, originals
from stillroom.store.files import sha256_of
from stillroom.store.journal import Note
from stillroom.store.lab import Lab, now


def write_batch(lab: Lab, batch: Batch, naming: Naming) -> Added:
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


def _keep_originals(lab: Lab, batch: Batch, date: str) -> dict[str, str]:
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


def _original_notes(lab: Lab, batch: Batch, places: Mapping[str, str]) -> list[Note]:
    known = journal.originals_known(lab.database)
    new = {file.source.sha256: file for file in batch.files if file.source.sha256 not in known}
    return [
        Note(journal.ORIGINAL, digest, {"file": file.name, "bytes": file.source.size}, places[digest])
        for digest, file in new.items()
    ]


def _record_notes(lab: Lab, batch: Batch, places: Mapping[str, str]) -> tuple[list[Note], dict[str, int]]:
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
    standing: dict[str, Taken], batch: Batch, naming: Naming, already: Mapping[str, str], date: str
) -> _TakenNotes:
    made = _TakenNotes()
    for file, seen, recording in batch.measured:
        record = _taken(file, seen, recording, naming.said.get(file.name, {}), already, date)
        before = standing.get(record.sha256)
        if before is not None:
            record = _corrected(before, record, naming.told, batch.reading)
        if before == record:
            made.known.append(file.name)
            continue
        (made.again if before else made.new).append(_again_words(file.name, before, record))
        standing[record.sha256] = record
        made.notes.append(Note(record.kind, record.name, as_json(record), record.place))
    return made


def _corrected(before: Taken, now: Taken, told: Mapping[str, str], reading: bool) -> Taken:
    """A file that is in the lab already: only what was told in this call changes, what was corrected stays."""
    layout = now.layout if reading else before.layout
    said = {**(before.said or {}), **(now.said or {})} if told else before.said
    if not reading and not told:
        return before
    return replace(now, file=before.file, place=before.place, date=before.date, layout=layout, said=said)


def _again_words(name: str, before: Taken | None, now: Taken) -> str:
    """A file's name, with what is said of it otherwise than before."""
    if before is None:
        return name
    was, said = before.said or {}, now.said or {}
    moved = [
        f"{each} was {was.get(each, 'untold')}, is {said[each]}"
        for each in said
        if said[each] != was.get(each)
    ]
    return f"{name} ({'; '.join(moved)})" if moved else name


def _taken(
    file: File,
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
