"""Understanding what is brought in, file by file: a bad file is named and doesn't stop the others."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import PurePosixPath

from stillroom.errors import BadInput, Contradiction, LabDamaged, StillroomError, UnknownThing, UnknownUnit
from stillroom.lab.book import Book, fans_known
from stillroom.lab.eras.rigs_by_date import rig_names
from stillroom.lab.executor import Progress
from stillroom.lab.intake import layouts
from stillroom.lab.intake.asking_channels import channels_told
from stillroom.lab.intake.batch import Ask, Batch, File, Measured
from stillroom.lab.intake.parts import parts_of
from stillroom.lab.intake.pictures_told import PICTURES
from stillroom.lab.intake.recordings import recording_of
from stillroom.lab.intake.telling import records_of_rigs, records_of_table, table_kinds
from stillroom.lab.versions import names_of
from stillroom.readers.meaning.channels import unnamed_channels
from stillroom.readers.meaning.overrides import COLUMN_KEYS, LEAVE_OUT, is_layout_key
from stillroom.readers.meaning.understanding import (
    FileUnderstanding,
    Understanding,
    missing_units,
    understand,
)
from stillroom.readers.paths.names import SUFFIXES
from stillroom.readers.registers.tables import table_kind
from stillroom.readers.source import RECORDINGS, Source
from stillroom.readers.words.headers import split_header, squeeze
from stillroom.readers.words.kinds import NO_KIND
from stillroom.records.acts import SavedLayout, Taken
from stillroom.records.kinds import KINDS
from stillroom.vocabulary import is_unit

ENDINGS = (*SUFFIXES, *RECORDINGS, *PICTURES, ".toml")
"""The endings of files that may hold something for the lab."""


def understand_all(
    files: Sequence[File],
    told: Mapping[str, str],
    book: Book,
    *,
    layout: SavedLayout | None,
    ask: Ask | None,
    progress: Progress,
) -> Batch:
    """What the files hold.

    Parameters
    ----------
    told : what was said by `--as`. layout : the saved layout that was asked for, or None.
    ask : how to ask, or None.
    """
    at_work = _Understander(files, told, book, layout, ask)
    for done, file in enumerate(files):
        progress("files", done, len(files))
        at_work.take(file)
    progress("files", len(files), len(files))
    at_work.check_used()
    return at_work.batch


class _Understander:
    """Understands one file after the other, and keeps what was answered for those that follow."""

    def __init__(
        self,
        files: Sequence[File],
        told: Mapping[str, str],
        book: Book,
        layout: SavedLayout | None,
        ask: Ask | None,
    ) -> None:
        self.reading = {key: value for key, value in told.items() if is_layout_key(key)}
        self.by_hand = frozenset(told) - self.reading.keys()
        self.layout, self.ask = layout, ask
        self.single = len(files) == 1
        self.batch = Batch(reading=bool(self.reading) or layout is not None)
        self.kinds = table_kinds()
        self.saved = [each for each in book.layouts.values() if each.tables]
        self.names: dict[str, Collection[str]] = {
            "fan": list(fans_known(book).values()), "obstacle": names_of(book.obstacles), "rig": rig_names(book.rigs),
            "mounting": book.mountings,
        }  # fmt: skip
        self.answers: dict[str, str] = {}
        self.channels: dict[tuple[str, ...], dict[str, str]] = {}
        self.unused = {key for key in self.reading if key.startswith(COLUMN_KEYS)}
        self.before: dict[str, list[Taken]] = {}
        for each in book.taken.values():
            self.before.setdefault(each.sha256, []).append(each)

    def take(self, file: File) -> None:
        """Understand one file; what is wrong with it is kept beside the others."""
        ending = PurePosixPath(file.name).suffix.lower()
        if ending in PICTURES:
            self.batch.pictures.append(file)
        elif ending not in ENDINGS and file.alone:
            self.batch.bad.append(
                BadInput("file", place=file.name, found=f"ending {ending!r}", expected=", ".join(ENDINGS))
            )
        elif ending not in ENDINGS:
            why = f"ending {ending or 'none'!r} is none of {', '.join(ENDINGS)}"
            self.batch.left_out[file.name] = why
        else:
            try:
                self._take(file, ending)
            except LabDamaged:
                raise
            except StillroomError as error:
                self._refuse(file, error)

    def check_used(self) -> None:
        """Refuse an override of a column that no file has.

        Raises
        ------
        UnknownThing : names the column.
        """
        if self.unused and not self.single and (self.batch.measured or self.batch.bad):
            key = sorted(self.unused)[0]
            raise UnknownThing(
                f"--as {key!r}", found="no such column in any of the files", expected="a column's header"
            )

    def _refuse(self, file: File, error: StillroomError) -> None:
        why = "" if file.alone or _is_of_column(error) else no_measurement(file.source)
        if why:
            self.batch.left_out[file.name] = why
        else:
            self.batch.bad.append(error)

    def _take(self, file: File, ending: str) -> None:
        known = tuple(self.before.get(file.source.sha256, ()))
        if known and not self._is_about(known):
            self.batch.measured.append(Measured(file, (), known))
        elif ending in RECORDINGS:
            self.batch.measured.append(Measured(file, (recording_of(file),), known))
        elif ending == ".toml" and layouts.is_shared(file.source):
            self.batch.records.append((layouts.shared(file.source), file.name, file.name))
        elif ending == ".toml":
            self.batch.records += records_of_rigs(file)
        elif "sheet" not in self.reading and (kind := table_kind(file.source, self.kinds)):
            try:
                records, others = records_of_table(file, KINDS[kind], self.kinds)
            except StillroomError as error:  # a table for certain, however few numbers it holds
                self.batch.bad.append(with_nothing_added(error, "nothing of this table was added"))
                return
            self.batch.records += records
            if others:
                named = ", ".join(map(repr, others))
                self.batch.marks.append(
                    f"{file.name}: not read, for a table of kind {kind} has none: {named}"
                )
        else:
            seen, name, asked = self._seen(file)
            parts = parts_of(file, seen, self.names, self.by_hand)
            fans = dict.fromkeys((*self.names["fan"], *(each.found.get("fan", "") for each in parts)))
            self.names["fan"] = [each for each in fans if each]
            self.batch.measured.append(Measured(file, parts, known, seen, name, asked, self._unread))
        self.batch.files.append(file)

    def _seen(self, file: File) -> tuple[FileUnderstanding, str, bool]:
        """What a file holds, the name of the saved layout by which it was read, or "", and whether a unit was
        asked for.
        """
        if self.layout is not None and self.layout.tables:
            return layouts.strictly(file, self.layout), self.layout.layout, False
        fitting = None if self._of_every_file else layouts.fitting(self.saved, file, self.ask)
        if fitting and not self._names_column(
            [each.header for one in layouts.layouts_in(fitting) for each in one.columns]
        ):
            return layouts.strictly(file, fitting), fitting.layout, False
        return self._by_words(file)

    @property
    def _unread(self) -> frozenset[str]:
        """The columns that were told to be left out, as `squeeze` has them."""
        keys = (key for key in self.reading if key.startswith("column:"))
        return frozenset(
            squeeze(key.partition(":")[2]) for key in keys if self.reading[key].strip() in LEAVE_OUT
        )

    @property
    def _of_every_file(self) -> bool:
        """Whether something was told of how every file is written, and not only of columns by their headers."""
        return any(not key.startswith(COLUMN_KEYS) for key in self.reading)

    def _names_column(self, headers: Iterable[str]) -> bool:
        """Whether one of the columns that something was told of is among these headers."""
        told = {squeeze(key.partition(":")[2]) for key in self.reading if key.startswith(COLUMN_KEYS)}
        return any(squeeze(name) in told for each in headers for name in (each, split_header(each).name))

    def _is_about(self, known: Sequence[Taken]) -> bool:
        """Whether what was told of reading concerns a file that the lab has already."""
        if any("audio" in one.layout for one in known):
            return False  # a recording is read in one way
        if self.layout is not None or self._of_every_file:
            return True
        return self._names_column(each["header"] for one in known for each in one.layout["columns"])

    def _told_before(self, file: File, reading: Mapping[str, str]) -> dict[str, str]:
        """The units that were told of a file when it came in, for columns of which nothing is told now."""
        missing = {each.header for each in missing_units(file.source, reading)}
        return {
            f"unit:{each['header']}": each["unit"]
            for one in self.before.get(file.source.sha256, ())
            for each in one.layout["columns"]
            if each["header"] in missing and each["unit"]
        }

    def _by_words(self, file: File) -> tuple[FileUnderstanding, str, bool]:
        """A file as it is understood with what was said of columns, as far as it has them, and was answered."""
        reading, asked = dict(self.reading), False
        while True:
            try:
                seen = understand(file.source, reading)
            except UnknownThing as error:
                key = next((key for key in reading if error.thing == f"--as {key!r}"), "")
                if not key or file.alone:
                    raise
                del reading[key]
            except UnknownUnit:
                answered = self._told_before(file, reading) or self._answers(file, reading)
                if not answered:
                    self.unused -= set(reading)  # the columns are there: what is wrong is said
                    raise
                reading |= answered
                asked = True
            except BadInput as error:
                answered = self._channels(file, reading, ()) if error.thing == NO_KIND else {}
                if not answered:
                    self.unused -= set(reading) if _is_of_column(error) else set()
                    raise
                reading |= answered
                asked = True
            except Contradiction as error:
                self.unused -= set(reading) if _is_of_column(error) else set()
                raise
            else:
                answered = self._channels(file, reading, seen.blocks)
                if not answered:
                    self.unused -= set(reading)
                    return seen, "", asked
                reading |= answered
                asked = True

    def _channels(
        self, file: File, reading: Mapping[str, str], blocks: Sequence[Understanding]
    ) -> dict[str, str]:
        """What a person at the terminal tells of a log's columns that name no quantity; asked once for all files of
        such columns, and only of a log that lacks the hot probe; empty where nobody does.
        """
        known = {name: header for block in blocks for name, header in block.layout.headers.items()}
        if self.ask is None or "hot_temperature" in known or any(not each.kind.is_heat for each in blocks):
            return {}
        unnamed = unnamed_channels(file.source, reading)
        if not unnamed or (blocks and "temperature" not in unnamed.values()):
            return {}
        if tuple(unnamed) not in self.channels:
            self.channels[tuple(unnamed)] = channels_told(file, unnamed, known, self.ask)
        told = self.channels[tuple(unnamed)]
        useless = not blocks and all(value == "none" for value in told.values())
        return {} if useless or any(key in reading for key in told) else dict(told)

    def _answers(self, file: File, reading: Mapping[str, str]) -> dict[str, str]:
        """The units that a person tells at the terminal, asked once for all files; empty where nobody does."""
        found: dict[str, str] = {}
        if self.ask is None:
            return found
        for each in missing_units(file.source, reading):
            key = f"unit:{each.header}"
            if key in reading:
                return {}
            if key not in self.answers:
                usual = each.option.rpartition("=")[2]
                words = f"{file.name}: in which unit is the column {each.header!r}? (such as {usual})"
                self.answers[key] = self.ask(words).strip()
            if not is_unit(self.answers[key]):
                del self.answers[key]
                return {}
            found[key] = self.answers[key]
        return found


def with_nothing_added(error: StillroomError, words: str) -> StillroomError:
    """An error that says as well what became of the lines that are right."""
    return type(error)(
        error.thing,
        place=error.place,
        found=error.found,
        expected=f"{error.expected}; {words}" if error.expected else words,
    )


READ_SO_FAR = ("column", "unit")
"""What an error is about where the titles of a table were understood: so the file was meant as a measurement."""


def _is_of_column(error: StillroomError) -> bool:
    """Whether an error is about a column of a table whose titles were understood."""
    return error.thing.partition(" ")[0] in READ_SO_FAR


_CELLS = re.compile(r"[;,\t|\s]+")
_NUMBER = re.compile(r"[+\-−]?[\d.,']*\d[\d.,']*(?:[eE][+\-]?\d+)?")
_OF_RIGS = re.compile(r"\s*\[{1,2}\s*[\"']?(?:rig|instrument)\b")
_LOOKED_AT = 400
ROWS = 3
"""A text holds a table of measurements if it has so many lines with at least two numbers each."""


def no_measurement(source: Source) -> str:
    """Why a file that couldn't be understood holds no measurement at all; "" where it may hold a damaged one."""
    try:
        if PurePosixPath(source.name).suffix.lower() in RECORDINGS:
            return ""
        if source.size == 0:
            return "an empty file"
        if source.container and "workbook" not in source.container and "ZIP" not in source.container:
            return f"{source.container}, whatever its name says"
        if source.container:
            return ""
        lines = [line for _, line in zip(range(_LOOKED_AT), source.lines(), strict=False)]
    except StillroomError:
        return ""
    if not any(line.strip() for line in lines):
        return "an empty file"
    if PurePosixPath(source.name).suffix.lower() == ".toml" and any(map(_OF_RIGS.match, lines)):
        return ""
    numbers = [sum(1 for cell in _CELLS.split(line.strip()) if _NUMBER.fullmatch(cell)) for line in lines]
    return "" if sum(1 for each in numbers if each >= 2) >= ROWS else "a text without a table of numbers"
