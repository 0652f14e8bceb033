"""The book: all records that stand now, and which file is which fan, sample, mounting and setting."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from stillroom.errors import Contradiction
from stillroom.readers.kinds import Kind
from stillroom.records.acts import Decision, Event, Mounting, Run, SavedLayout, Spread, Taken
from stillroom.records.bench import Calibration, Instrument, Nozzle, Obstacle, Rig
from stillroom.records.products import Claim, Fan, Legacy, Price, Sample
from stillroom.records.settings import Settings
from stillroom.store.lab import Lab

UNKNOWN_SAMPLE = "1"


@dataclass(frozen=True)
class Book:
    """All records of a lab, by name."""

    settings: Settings
    fans: Mapping[str, Fan]
    samples: Mapping[str, Sample]
    obstacles: Mapping[str, Obstacle]
    mountings: Mapping[str, Mounting]
    runs: Mapping[str, Run]
    taken: Mapping[str, Taken]
    rigs: Mapping[str, Rig]
    instruments: Mapping[str, Instrument]
    calibrations: Mapping[str, Calibration]
    nozzles: Mapping[str, Nozzle]
    claims: Mapping[str, Claim] = field(default_factory=dict)
    prices: Mapping[str, Price] = field(default_factory=dict)
    events: Mapping[str, Event] = field(default_factory=dict)
    legacy: Mapping[str, Legacy] = field(default_factory=dict)
    decisions: Mapping[str, Decision] = field(default_factory=dict)
    spreads: Mapping[str, Spread] = field(default_factory=dict)
    layouts: Mapping[str, SavedLayout] = field(default_factory=dict)


def open_book(lab: Lab) -> Book:
    """Read all records of a lab."""
    return Book(
        settings=lab.settings,
        fans=lab.current(Fan),
        samples=lab.current(Sample),
        obstacles=lab.current(Obstacle),
        mountings=lab.current(Mounting),
        runs=lab.current(Run),
        taken=lab.current(Taken),
        rigs=lab.current(Rig),
        instruments=lab.current(Instrument),
        calibrations=lab.current(Calibration),
        nozzles=lab.current(Nozzle),
        claims=lab.current(Claim),
        prices=lab.current(Price),
        events=lab.current(Event),
        legacy=lab.current(Legacy),
        decisions=lab.current(Decision),
        spreads=lab.current(Spread),
        layouts=lab.current(SavedLayout),
    )


@dataclass(frozen=True)
class Placed:
    """A measurement file with its place in the lab.

    Parameters
    ----------
    taken : the file. fan, sample, mounting, obstacle, rig : names; "" where there is none.
    setting : duty [1], volts [V] or speed [1/s], None where nobody told. setting_word : the same in words.
    date : of the mounting, or of the file. registered : whether the sample has a record of its own.
    """

    taken: Taken
    fan: str
    sample: str
    mounting: str
    obstacle: str
    rig: str
    setting: float | None
    setting_word: str
    date: str
    registered: bool

    @property
    def run(self) -> str:
        """Short identity of the run."""
        return self.taken.sha256[:12]

    @property
    def is_obstacle(self) -> bool:
        """Whether it is an obstacle's own run, without a fan."""
        return self.fan == ""


def place_all(book: Book) -> list[Placed]:
    """Every measurement file with its place, in the order in which they came in.

    Raises
    ------
    Contradiction : two rows of the run table speak of one file.
    """
    rows = by_path(book.runs.values())
    return [_place(book, taken, row_for(taken.file, rows)) for taken in book.taken.values()]


def by_path(runs: Iterable[Run]) -> dict[str, list[Run]]:
    """Rows of the run table by their path, with forward slashes."""
    rows: dict[str, list[Run]] = defaultdict(list)
    for run in runs:
        rows[PurePosixPath(run.file.replace("\\", "/")).as_posix()].append(run)
    return rows


def row_for(file: str, rows: Mapping[str, list[Run]]) -> Run | None:
    """The row of the run table for a file: the one whose path is the longest end of the file's path.

    Raises
    ------
    Contradiction : two rows fit equally well.
    """
    tail = file
    while tail not in rows:
        _, slash, tail = tail.partition("/")
        if not slash:
            return None
    if len(rows[tail]) > 1:
        raise Contradiction(
            "run table", place=file, found="two rows for this file", expected="one row a file"
        )
    return rows[tail][0]


def _place(book: Book, taken: Taken, row: Run | None) -> Placed:
    said = taken.said or {}
    fan = (row.fan if row else said.get("fan")) or ""
    obstacle = (row.obstacle if row else said.get("obstacle")) or ""
    if taken.content == Kind.OBSTACLE.value:
        fan = ""
    sample = _sample_name(book, fan, (row.sample if row else said.get("sample")) or UNKNOWN_SAMPLE)
    mounting = ((row.mounting if row else said.get("mounting")) or "") if fan else ""
    if fan and mounting and row is None and mounting not in book.mountings:
        mounting = f"{fan}-{sample}-{mounting}"
    record = book.mountings.get(mounting)
    date = (record.date if record else None) or taken.date
    rig = (row.rig if row else said.get("rig")) or (record.rig if record else None)
    rig = rig or (_usual_rig(book) if row else book.settings.rig)
    setting, word = _setting(row, said)
    return Placed(
        taken=taken,
        fan=fan,
        sample=sample,
        mounting=mounting or (f"{fan}-{sample}-{date}" if fan else ""),
        obstacle=obstacle,
        rig=rig,
        setting=setting,
        setting_word=word,
        date=date,
        registered=f"{fan}/{sample}" in book.samples,
    )


def _sample_name(book: Book, fan: str, said: str) -> str:
    """A sample's name as the lab knows it: "1" in a folder's name is "s1" in a table of samples."""
    if not fan:
        return ""
    return f"s{said}" if f"{fan}/{said}" not in book.samples and said.isdigit() else said


def _usual_rig(book: Book) -> str:
    if book.settings.rig:
        return book.settings.rig
    return next(iter(book.rigs)) if len(book.rigs) == 1 else ""


def _setting(row: Run | None, said: Mapping[str, str]) -> tuple[float | None, str]:
    """The setting in SI and in words; duty before volts before speed."""
    if row is not None:
        told = {"duty": row.duty, "volts": row.volts, "speed": row.speed}
    else:
        told = {name: float(said[name]) for name in ("duty", "volts", "speed") if name in said}
    words = {"duty": (100.0, "%"), "volts": (1.0, " V"), "speed": (60.0, " rpm")}
    for name, (factor, unit) in words.items():
        value = told.get(name)
        if value is not None:
            return value, f"{value * factor:g}{unit}"
    return None, ""
