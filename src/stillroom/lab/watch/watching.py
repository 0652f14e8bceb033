"""Watching a folder at the rig: each export is brought in, checked and shown as soon as it is whole."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from stillroom.errors import BadInput, Contradiction, LabDamaged, StillroomError, UnknownThing, UnknownUnit
from stillroom.lab.book import Book
from stillroom.lab.intake.batch import Added, Ask, File
from stillroom.lab.intake.checked import Checked
from stillroom.lab.intake.checking_in import check_in
from stillroom.lab.intake.collecting import name_in
from stillroom.lab.intake.intake import bring_in_files
from stillroom.lab.recipes import Graph
from stillroom.lab.watch.painting import Painter
from stillroom.lab.watch.still_files import Rested, StillFiles, is_recording
from stillroom.lab.watch.watch_picture import FOLDER as CHARTS
from stillroom.lab.watch.watch_picture import NAME, Newest, chart_of, in_letters, newest
from stillroom.readers.sound.audio import audio_format
from stillroom.store import journal
from stillroom.store.lab import Lab

PAUSE = 0.25
"""How long between two looks into the folder [s]; longer where a look itself takes longer."""

NOT_BY_WAITING = (UnknownUnit, UnknownThing, Contradiction)
"""What a file lacks that no further line of it will bring: named at once."""


@dataclass(frozen=True)
class Arrival:
    """What happened with a file.

    Parameters
    ----------
    file : its name in the lab. checked : its runs, with a word each. error : why it is bad, or None.
    left_out : why it holds nothing for the lab, or "". picture : of its last run, in letters.
    charts : files of the picture, once it is drawn. records : what it told, where it was a table.
    runs : names of the runs that came in. known : files of which the lab has the bytes already, said together.
    """

    file: str
    checked: tuple[Checked, ...] = ()
    error: StillroomError | None = None
    left_out: str = ""
    picture: tuple[str, ...] = ()
    charts: tuple[Path, ...] = ()
    records: Mapping[str, int] | None = None
    runs: tuple[str, ...] = ()
    known: tuple[str, ...] = ()


@dataclass(frozen=True)
class Telling:
    """What is told of all files of the folder; as in `bring_in`."""

    said: Mapping[str, str]
    layout: str = ""
    like_last: bool = False
    new_mounting: bool = False
    ask: Ask | None = None
    check: bool = True
    draw: bool = True


def watch(
    lab: Lab,
    folder: Path,
    telling: Telling,
    *,
    once: bool = False,
    sleep: Callable[[float], None] = time.sleep,
) -> Iterator[Arrival]:
    """Bring in the files of a folder as they come to rest, for ever, or (`once`) until all there are handled.

    The word comes first, the picture when it is drawn. What the lab has already isn't taken again, which is said
    once. A new mounting that was told begins with the first run that comes in.

    Raises
    ------
    BadInput : no such folder. LabDamaged : the lab is not as its journal says.
    """
    if not folder.is_dir():
        raise BadInput("--watch", place=str(folder), found="no folder", expected="the folder of the exports")
    painter = Painter(lab.path / CHARTS) if telling.draw and telling.check else None
    try:
        yield from _watch(_Watched(lab, folder.resolve(), painter), telling, once, sleep)
    finally:
        if painter:
            painter.close()


class _Watched:
    """A folder that is watched, for a lab."""

    def __init__(self, lab: Lab, base: Path, painter: Painter | None) -> None:
        self.lab, self.base, self.painter = lab, base, painter
        self.files = StillFiles(base)
        self.known: list[str] = []

    @property
    def busy(self) -> bool:
        """Whether a file is waited for, or a picture being drawn."""
        return self.files.waiting or (self.painter is not None and self.painter.busy)

    def passed_by(self) -> Iterator[Arrival]:
        """The files since the last look whose bytes the lab has already, together."""
        known, self.known = tuple(self.known), []
        if known:
            yield Arrival(known[0], known=known)

    def drawn(self) -> Iterator[Arrival]:
        """A picture that is done."""
        try:
            if self.painter and (charts := self.painter.finished()):
                yield Arrival(NAME, charts=charts)
        except StillroomError as error:
            yield Arrival(NAME, error=error)


def _watch(
    watched: _Watched, telling: Telling, once: bool, sleep: Callable[[float], None]
) -> Iterator[Arrival]:
    while True:
        began = time.monotonic()
        for rested in watched.files.ready():
            for arrival in _arrived(watched, rested, telling):
                if arrival.runs:
                    telling = replace(telling, new_mounting=False)
                yield arrival
        yield from watched.passed_by()
        yield from watched.drawn()
        if once and not watched.busy:
            return
        sleep(max(PAUSE, time.monotonic() - began))


def _arrived(watched: _Watched, rested: Rested, telling: Telling) -> Iterator[Arrival]:
    """What comes of one file at rest; nothing where it is known already, or where it has to wait."""
    lab, files = watched.lab, watched.files
    name = name_in(watched.base, rested.path)
    file = File(name, rested.source(name))
    if _is_unfinished(file, rested):
        files.later(rested.path)
        return
    if file.source.sha256 in journal.originals_known(lab.database):
        files.handled(rested.path)
        watched.known.append(name)
        return
    added, error, may_grow = _brought_in(lab, file, telling)
    if error is not None and may_grow and not rested.given_up:
        files.later(rested.path)
        return
    files.handled(rested.path)
    if error is not None:
        yield Arrival(name, error=error)
    elif added.left_out:
        yield Arrival(name, left_out=added.left_out[name])
    elif not telling.check or not added.runs:
        yield Arrival(name, records=added.records, runs=added.runs)
    else:
        yield _checked(lab, name, added, watched.painter)


def _is_unfinished(file: File, rested: Rested) -> bool:
    """Whether a recording's header doesn't fit its bytes yet: its recorder writes on, or is still to close it."""
    if not is_recording(rested.path) or rested.given_up:
        return False
    try:
        audio_format(file.source)
    except StillroomError:
        return True
    return False


def _brought_in(lab: Lab, file: File, telling: Telling) -> tuple[Added, StillroomError | None, bool]:
    """What came in, what was wrong, and whether that may be cured by waiting for more of the file."""
    try:
        added = bring_in_files(
            lab,
            [file],
            telling.said,
            layout=telling.layout,
            like_last=telling.like_last,
            new_mounting=telling.new_mounting,
            ask=telling.ask,
        )
    except LabDamaged:
        raise
    except StillroomError as error:
        return Added(), error, False
    wrong = added.bad[0] if added.bad else None
    return added, wrong, not isinstance(wrong, NOT_BY_WAITING)


def _checked(lab: Lab, name: str, added: Added, painter: Painter | None) -> Arrival:
    checked, book, graph = check_in(lab, added.runs, workers=1)
    last = checked[-1] if checked else None
    series = _series(lab, book, graph, last) if last else None
    if painter and series and last:
        painter.draw(chart_of(book, series, last))
    picture = in_letters(series) if series else ()
    return Arrival(name, tuple(checked), picture=picture, runs=added.runs)


def _series(lab: Lab, book: Book, graph: Graph, checked: Checked) -> Newest | None:
    try:
        return newest(lab, book, graph, checked.placed)
    except LabDamaged:
        raise
    except StillroomError:
        return None
