"""Writing what was brought in: the originals first, then all entries in one transaction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath
from typing import Any

from stillroom.lab.book import row_for
from stillroom.lab.intake.batch import Added, Batch, Measured, Part
from stillroom.lab.intake.naming import Naming
from stillroom.lab.intake.recordings import AUDIO_VERSION, with_channel
from stillroom.readers.reading.recording import READER_VERSION
from stillroom.readers.source import Source
from stillroom.readers.words.recordings import recorded_in_name
from stillroom.records.acts import Run, Taken
from stillroom.records.fields import as_json
from stillroom.store import journal, originals
from stillroom.store.files import sha256_of
from stillroom.store.journal import WITHDRAWN, Note
from stillroom.store.lab import Lab, now

_BLOCK = 2**20


def write_batch(lab: Lab, batch: Batch, naming: Naming, rows: Mapping[str, list[Run]]) -> Added:
    """Keep the originals first, then write all entries in one transaction; `rows` are the run table's, as it will
    stand, by path.

    What another program has brought in meanwhile is seen inside the transaction, and not written twice.
    """
    moment = now()
    kept = _keep_originals(lab, batch, moment[:10])
    with lab.writing():
        already = kept | journal.originals_known(lab.database)
        notes = _original_notes(lab, batch, already)
        places = {file.name: already[file.source.sha256] for file in batch.files}
        written, changed = _record_notes(lab, batch, places)
        entering = _Entering(lab, already, naming, moment, rows, reading=batch.reading)
        for each in batch.measured:
            entering.take(each)
        lab.append([*notes, *written, *entering.notes])
    return Added(
        new=tuple(entering.new),
        again=tuple(entering.again),
        known=tuple(entering.known),
        records=changed,
        left_out=batch.left_out,
        bad=tuple(batch.bad),
        names=naming.words,
        by_layout={each.file.name: each.layout for each in batch.measured if each.layout},
        marks=(*naming.marks, *entering.marks()),
        runs=tuple(entering.runs),
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
            places[digest] = originals.keep(lab.path, file.source.blocks, name, date, digest)
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


_Runs = dict[str, Taken]


@dataclass
class _Entering:
    """Turns measured files into entries, one after the other, inside the transaction."""

    lab: Lab
    places: Mapping[str, str]
    naming: Naming
    moment: str
    rows: Mapping[str, list[Run]]
    reading: bool
    notes: list[Note] = field(default_factory=list)
    new: list[str] = field(default_factory=list)
    again: list[str] = field(default_factory=list)
    known: list[str] = field(default_factory=list)
    runs: list[str] = field(default_factory=list)
    twins: list[str] = field(default_factory=list)
    same: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.standing: dict[str, _Runs] = {}
        self.by_file: dict[str, str] = {}
        for each in self.lab.current(Taken).values():
            self.standing.setdefault(each.sha256, {})[each.name] = each
            self.by_file[each.file] = each.sha256

    def take(self, measured: Measured) -> None:
        """Write what is new of a file: its runs, and that earlier ones of it stand no more."""
        file = measured.file
        before = self.standing.get(file.source.sha256, {})
        grown = {} if before else self._grown(measured)
        wanted = self._wanted(measured, before, grown)
        stale = [name for name in (*before, *grown) if name not in wanted]
        changed = [each for name, each in wanted.items() if before.get(name) != each]
        if not stale and not changed:
            self.known.append(file.name)
            self._compare_names(measured, before)
            return
        words = _again_words(file.name, before or grown, wanted, grown=bool(grown))
        (self.again if before or grown else self.new).append(words)
        self.notes += [Note(WITHDRAWN, name, {"kind": Taken.kind}) for name in stale]
        self.notes += [Note(each.kind, each.name, as_json(each), each.place) for each in changed]
        self.runs += [each.run for each in changed]
        self.standing[file.source.sha256] = wanted
        self.by_file[file.name] = file.source.sha256

    def marks(self) -> list[str]:
        """What has to be said of files that came in."""
        return [
            f"{name}: another file of that name, with other bytes, is in the lab already; both stand"
            for name in self.twins
        ] + self.same

    def _compare_names(self, measured: Measured, before: Mapping[str, Taken]) -> None:
        """Say it where one recording has two names that say different things of what was recorded."""
        name, there = measured.file.name, next((each.file for each in before.values()), "")
        told, other = (recorded_in_name(PurePosixPath(each).stem) for each in (name, there))
        if measured.is_recording and told and other and told.words != other.words:
            self.same.append(
                f"{name} is the same recording as {there}, byte for byte: it stands as {other.words} only,"
                f" there is no {told.words}"
            )

    def _wanted(self, measured: Measured, before: Mapping[str, Taken], grown: Mapping[str, Taken]) -> _Runs:
        """The runs of a file as they are to stand; what is there already stays, but for what was told now."""
        said, told = self.naming.said.get(measured.file.name, {}), self.naming.told
        if before and not measured.file.alone:  # a fan that is fitted anew now was not when this came in
            said, told = _but(said, "swap"), _but(told, "swap")
        if before and not (self.reading and measured.parts):
            if not told:
                return dict(before)
            return {name: _said_anew(each, merged(each, said, told)) for name, each in before.items()}
        standing = next(iter((before or grown).values()), None)
        made = [self._taken(measured, each, said, told, standing) for each in measured.parts]
        return {each.name: each for each in made}

    def _taken(
        self,
        measured: Measured,
        part: Part,
        said: Mapping[str, str],
        told: Mapping[str, str],
        before: Taken | None,
    ) -> Taken:
        file, recording, kept = measured.file, part.recording, slice(part.first, part.last)
        names = dict.fromkeys(name for each in recording.nozzles[kept] for name in each)
        made = Taken(
            sha256=file.source.sha256,
            part=part.number,
            file=file.name,
            place=self.places[file.source.sha256],
            date=self.moment[:10],
            layout=with_channel(part.layout, said, row_for(file.name, self.rows))
            if part.audio
            else part.layout,
            reader=f"sound {AUDIO_VERSION}" if part.audio else f"table {READER_VERSION}",
            content=part.kind.value,
            quantities=("sound_pressure",) if part.audio else tuple(recording.columns),
            nozzles=tuple(names) or None,
            points=part.points,
            first=None if part.number is None else part.first,
            last=None if part.number is None else part.last,
            direction=part.direction or None,
            said=dict(said) or None,
            found=part.found or None,
            measured=part.measured or None,
            ended=part.ended or None,
            arrived=self.moment,
        )
        if before is None:
            return made
        return replace(
            made,
            file=before.file,
            date=before.date,
            arrived=before.arrived,
            said=merged(before, said, told),
        )

    def _grown(self, measured: Measured) -> _Runs:
        """The runs of an earlier state of the same file, where it has only grown at its end since."""
        other = self.by_file.get(measured.file.name)
        if other is None or not measured.parts:
            return {}
        then = self.lab.path / self.places[other]
        shorter = then.is_file() and then.stat().st_size < measured.file.source.size
        if shorter and not measured.is_recording and _begins_with(measured.file.source, then):
            return self.standing.pop(other, {})
        self.twins.append(measured.file.name)
        return {}


def _said_anew(before: Taken, said: dict[str, str] | None) -> Taken:
    """A run of which something else is said; of a recording, with the channel that is told now."""
    if "audio" not in before.layout:
        return replace(before, said=said)
    if before.layout["channels"] == 1:
        said = _but(said or {}, "channel") or None
    return replace(before, said=said, layout=with_channel(before.layout, said or {}, None))


def _begins_with(source: Source, earlier: Path) -> bool:
    """Whether a file begins with the bytes of an earlier one; compared in blocks."""
    with source.open() as stream, earlier.open("rb") as before:
        while block := before.read(_BLOCK):
            if stream.read(len(block)) != block:
                return False
    return True


def merged(before: Taken, said: Mapping[str, str], told: Mapping[str, str]) -> dict[str, str] | None:
    """What is said of a run: names fill in, what was corrected before stays, what is told now comes first."""
    return {**said, **(before.said or {}), **(said if "names" in told else told)} or None


def _but(said: Mapping[str, str], name: str) -> dict[str, str]:
    return {key: value for key, value in said.items() if key != name}


def _again_words(name: str, before: Mapping[str, Taken], wanted: Mapping[str, Taken], *, grown: bool) -> str:
    """A file's name, with what is said of it otherwise than before."""
    if not before:
        return name
    moved = ["it has grown"] if grown else []
    if len(before) != len(wanted):
        moved.append(f"{_runs(before)} before, now {_runs(wanted)}")
    was = next(iter(before.values())).said or {}
    said = next(iter(wanted.values())).said or {}
    moved += [
        f"{each} was {was.get(each, 'untold')}, is {said[each]}"
        for each in said
        if said[each] != was.get(each)
    ]
    return f"{name} ({'; '.join(moved)})" if moved else name


def _runs(standing: Mapping[str, Taken]) -> str:
    return "1 run" if len(standing) == 1 else f"{len(standing)} runs"
