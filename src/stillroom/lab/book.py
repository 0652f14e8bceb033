"""The book: all records that stand now, and which file is which fan, sample, mounting and setting."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import PurePosixPath

from stillroom.errors import Contradiction
from stillroom.lab.purposes import Purpose, only_rig, purpose_of, rigs_for, usual_rig
from stillroom.lab.swaps import Fitted, numbered
from stillroom.lab.versions import in_force, is_free_air
from stillroom.readers.words.kinds import Kind
from stillroom.readers.words.recordings import Recorded, recorded_in
from stillroom.records.acts import Decision, Event, Mounting, Run, SavedLayout, Spread, Step, Taken
from stillroom.records.bench import Calibration, Instrument, Nozzle, Obstacle, Rig
from stillroom.records.products import Claim, Fan, Legacy, Price, Sample, completed
from stillroom.records.publishing import Dispute, Photo, Round
from stillroom.records.settings import Settings
from stillroom.store.lab import Lab

UNKNOWN_SAMPLE = "1"

BATH = "bath"
"""What a run says of itself (`Run.what`) where all probes lay in one bath."""


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
    steps: Mapping[str, Step] = field(default_factory=dict)
    rounds: Mapping[str, Round] = field(default_factory=dict)
    disputes: Mapping[str, Dispute] = field(default_factory=dict)
    photos: Mapping[str, Photo] = field(default_factory=dict)


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
        claims=completed(lab.current(Claim)),
        prices=lab.current(Price),
        events=lab.current(Event),
        legacy=lab.current(Legacy),
        decisions=lab.current(Decision),
        spreads=lab.current(Spread),
        layouts=lab.current(SavedLayout),
        steps=lab.current(Step),
        rounds=lab.current(Round),
        disputes=lab.current(Dispute),
        photos=lab.current(Photo),
    )


@dataclass(frozen=True)
class Placed:
    """A run with its place in the lab.

    Parameters
    ----------
    taken : the file, or the part of it. fan, sample, mounting, obstacle, rig : names; "" where there is none.
    setting : duty [1], volts [V] or speed [1/s], None where nobody told. setting_word : the same in words.
    date : on which it was measured: of the mounting's record, else as the file says, else of its arrival.
    registered : whether the sample has a record of its own.
    setting_kind : "duty", "volts", "speed", or "" where nobody told. told_date : date, but "" where only
    the arrival is known. direction : of the flow, "up" or "down", "" where it can't be told.
    row : of the run table, None where there is none. recording : of a run of sound what was recorded, as
    `Recorded` has it; "" of any other run.
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
    setting_kind: str = ""
    told_date: str = ""
    direction: str = ""
    row: Run | None = None
    recording: str = ""

    @property
    def run(self) -> str:
        """Short identity of the run."""
        return self.taken.run

    @property
    def is_obstacle(self) -> bool:
        """Whether it is an obstacle's own run, without a fan."""
        return self.fan == "" and self.is_airflow

    @property
    def purpose(self) -> Purpose:
        """What it measures."""
        return purpose_of(self.taken.content)

    @property
    def is_airflow(self) -> bool:
        """Whether it is a run in a chamber."""
        return self.purpose is Purpose.AIRFLOW

    @property
    def is_sound(self) -> bool:
        """Whether it is a run of sound: a recording, or a table of levels."""
        return self.purpose is Purpose.SOUND

    @property
    def is_heat(self) -> bool:
        """Whether it is a log of the heat rig, or one beside it."""
        return self.purpose is Purpose.HEAT

    @property
    def is_control(self) -> bool:
        """Whether it tells how a fan answers its control."""
        return self.purpose is Purpose.CONTROL

    @property
    def is_bath(self) -> bool:
        """Whether it is a log of all probes in one bath."""
        return self.is_heat and self.told("what").strip().casefold() == BATH

    @property
    def logger(self) -> str:
        """The name of the clock that wrote it; "" where nobody told."""
        return self.told("logger")

    @property
    def session(self) -> str:
        """The session to which it belongs; "" where nobody told."""
        return self.told("session")

    @property
    def clock_offset(self) -> float | None:
        """What its logger's clock must be put forward by [s]; None where nobody told."""
        by_row = self.row.clock_offset if self.row else None
        said = (self.taken.said or {}).get("clock_offset")
        return by_row if by_row is not None else float(said) if said else None

    def told(self, name: str) -> str:
        """A word that is told of the run: by the run table, else by names and `--as`, else by the file; or ""."""
        return _Told(self.row, self.taken).text(name)

    @property
    def channel(self) -> int:
        """Which channel of a recording is the microphone, from 1; 0 for a table."""
        if "audio" not in self.taken.layout:
            return 0
        return (self.row.channel if self.row else None) or int(self.taken.layout["channel"])

    @property
    def moment(self) -> str:
        """When it was measured, as text that sorts; where only the day is known, by its arrival."""
        measured, arrived = (self.taken.measured or "")[:19], (self.taken.arrived or "")[:19]
        if len(measured) > len("2026-11-25"):
            return measured
        day = self.told_date or arrived[:10] or self.taken.date
        return arrived if arrived.startswith(day) else f"{day}~{arrived}"


def fans_known(book: Book) -> dict[str, str]:
    """{a fan's name without case: as the lab writes it}; a fan's record comes first, then what came in first."""
    said = [each for one in book.taken.values() for each in (one.said or {}, one.found or {})]
    names = [*book.fans, *(each.fan or "" for each in book.runs.values())]
    names += [each.get("fan", "") for each in said]
    known: dict[str, str] = {}
    for name in names:
        if name:
            known.setdefault(name.casefold(), name)
    return known


def place_all(book: Book) -> list[Placed]:
    """Every run with its place, in the order in which they came in.

    Raises
    ------
    Contradiction : two rows of the run table speak of one run.
    """
    rows, fans = by_path(book.runs.values()), fans_known(book)
    placed = [_place(book, each, row_for(each.file, rows, each.part), fans) for each in book.taken.values()]
    untold = [
        Fitted(at, each.rig, each.fan, each.sample, each.date, each.moment, _swap(each), _test(each))
        for at, each in enumerate(placed)
        if each.fan
    ]
    names = numbered(untold, book.events.values())
    return [
        replace(each, mounting=names[at]) if each.fan and not each.mounting else each
        for at, each in enumerate(placed)
    ]


def _test(placed: Placed) -> str:
    """What the name of an untold mounting carries behind it; "" of airflow."""
    return "" if placed.is_airflow else placed.purpose.value


def _swap(placed: Placed) -> str:
    return (placed.taken.said or {}).get("swap", "")


def by_path(runs: Iterable[Run]) -> dict[str, list[Run]]:
    """Rows of the run table by their path, with forward slashes and without case, as some systems have it."""
    rows: dict[str, list[Run]] = defaultdict(list)
    for run in runs:
        rows[_plain_path(run.file).casefold()].append(run)
    return rows


def _plain_path(path: str) -> str:
    return PurePosixPath(path.replace("\\", "/")).as_posix()


def row_for(file: str, rows: Mapping[str, list[Run]], part: int | None = None) -> Run | None:
    """The row of the run table for a run: the one whose path is the longest end of the file's path.

    A row that names the part comes before one for the whole file; of two whose paths differ only in case
    it is the one that is written as the file is.

    Raises
    ------
    Contradiction : two rows fit equally well.
    """
    if not rows:
        return None
    tail = file.casefold()
    while tail not in rows:
        _, slash, tail = tail.partition("/")
        if not slash:
            return None
    named = [each for each in rows[tail] if each.part == (part or 1)]
    fitting = named or [each for each in rows[tail] if each.part is None]
    exact = [each for each in fitting if file.endswith(_plain_path(each.file))]
    if len(exact or fitting) > 1:
        which = f"{file}, part {part}" if part else file
        raise Contradiction(
            "run table", place=which, found="two rows for this file", expected="one row a file, or a part"
        )
    return next(iter(exact or fitting), None)


def _place(book: Book, taken: Taken, row: Run | None, fans: Mapping[str, str]) -> Placed:
    told = _Told(row, taken)
    purpose = purpose_of(taken.content)
    fan, obstacle = told.text("fan"), told.text("obstacle")
    fan = fan if fan in book.fans else fans.get(fan.casefold(), fan)
    if taken.content == Kind.OBSTACLE.value:
        fan = ""
    elif is_free_air(obstacle, book.obstacles):
        obstacle = ""
    recording = (recorded_in(told.text("recording")) or Recorded.DWELL) if purpose is Purpose.SOUND else None
    if recording and recording.is_calibrator and not told.text("mounting"):
        fan = obstacle = ""  # a calibrator sits on the microphone, whatever is mounted
    sample = _sample_name(book, fan, told.text("sample") or UNKNOWN_SAMPLE)
    mounting = told.text("mounting") if fan else ""
    if fan and mounting and not (row and row.mounting) and mounting not in book.mountings:
        mounting = f"{fan}-{sample}-{mounting}"
    record = book.mountings.get(mounting)
    told_date = (record.date if record else None) or taken.measured
    told_date = told_date or (_date_in_name(taken) if purpose in {Purpose.SOUND, Purpose.HEAT} else "")
    rig = (
        told.text("rig") or (record.rig if record else None) or _usual_rig(book, taken, told=row is not None)
    )
    kind, setting, word = told.setting() if recording is None or recording.is_of_fan else ("", None, "")
    obstacle = in_force(book.obstacles, obstacle, told_date or taken.date)
    return Placed(
        taken=taken,
        fan=fan,
        sample=sample,
        mounting=mounting,
        obstacle=obstacle,
        rig=rig,
        setting=setting,
        setting_word=word,
        date=(told_date or taken.date)[:10],
        registered=f"{fan}/{sample}" in book.samples,
        setting_kind=kind,
        told_date=told_date[:10],
        direction=taken.direction or "",
        row=row,
        recording=recording.value if recording else "",
    )


def _usual_rig(book: Book, taken: Taken, *, told: bool) -> str:
    """The rig of a run of which nobody tells it, by what the run measures; "" where none can be told.

    Parameters
    ----------
    told : whether the run table speaks of it.
    """
    rigs, usual, purpose = book.rigs.values(), book.settings.rig, purpose_of(taken.content)
    if purpose in {Purpose.HEAT, Purpose.SOUND}:
        return only_rig(rigs_for(purpose, rigs), usual)
    by_purpose = only_rig(rigs_for(purpose, rigs)) if purpose is Purpose.CONTROL else ""
    return by_purpose or (usual_rig(rigs, usual) if told else usual)


def _date_in_name(taken: Taken) -> str:
    """The day that a file's name tells, in ISO 8601: few recorders write it into the file; "" without one."""
    day = (taken.said or {}).get("date", "").replace("-", "")
    return f"{day[:4]}-{day[4:6]}-{day[6:8]}" if len(day) == len("20261125") else ""


def _sample_name(book: Book, fan: str, said: str) -> str:
    """A sample's name as the lab knows it: "1" and "S1" are the "s1" or "1" of a table of samples, "s1" without."""
    if not fan:
        return ""
    number = said[1:] if said[:1] in {"s", "S"} else said
    written = (said, f"s{number}", f"S{number}", number) if number.isdigit() else (said,)
    usual = f"s{number}" if number.isdigit() else said
    return next((each for each in written if f"{fan}/{each}" in book.samples), usual)


SETTINGS: dict[str, tuple[float, str]] = {"duty": (100.0, "%"), "volts": (1.0, " V"), "speed": (60.0, " rpm")}
"""{kind of setting: (factor from SI, unit)}, in the order in which one is taken where several are told."""


class _Told:
    """What is told of a run: by the run table's row; what that leaves empty by names and `--as`, then by the file."""

    def __init__(self, row: Run | None, taken: Taken) -> None:
        self.row, self.said, self.found = row, taken.said or {}, taken.found or {}

    def text(self, name: str) -> str:
        by_row = getattr(self.row, name) if self.row else ""
        return by_row or self.said.get(name) or self.found.get(name) or ""

    def setting(self) -> tuple[str, float | None, str]:
        """The setting's kind, its value in SI, and both in words."""
        by_row: dict[str, float | None] = {name: getattr(self.row, name, None) for name in SETTINGS}
        for told in (by_row, _settings(self.said), _settings(self.found)):
            for name, (factor, unit) in SETTINGS.items():
                value = told.get(name)
                if value is not None:
                    return name, value, f"{value * factor:g}{unit}"
        return "", None, ""


def _settings(said: Mapping[str, str]) -> dict[str, float | None]:
    return {name: float(said[name]) for name in SETTINGS if name in said}
