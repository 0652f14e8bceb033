"""Whether a measure was registered before its data: by the order of the journal, not by a date that was typed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from stillroom.compare.candidates import Margin
from stillroom.errors import StillroomError
from stillroom.lab.book import Book, Placed, place_all
from stillroom.lab.cases import margin_of
from stillroom.lab.field import Asked, rests_on, usual_size, why_not
from stillroom.lab.margin_words import margin_in
from stillroom.lab.measure_words import asked_from, words_of
from stillroom.lab.recipes import Graph
from stillroom.readers.words.recordings import recorded_in
from stillroom.records.fields import from_json
from stillroom.records.publishing import Round
from stillroom.store import journal
from stillroom.store.lab import Lab

NOT_REGISTERED = "not registered"
"""What is said of a measure that no round names."""


@dataclass(frozen=True)
class Registered:
    """That a round names a measure, since when, and what had been seen by then.

    Parameters
    ----------
    round, question, note : as the round tells them; "" where nothing is told.
    sequence, time : of the journal's entry by which the measure was first registered.
    fans : how many fans of the comparison have data.
    late : those of which data had come in before the entry. earlier : those of which data came in after it, but bear
    an earlier date of their own.
    margin_told : the margin that was registered, in words; "" where none was. margin : the same, in SI.
    margin_own : that of the lab's settings now, SI. changed : margins told after the first data, as (day, words).
    """

    round: str
    question: str
    note: str
    sequence: int
    time: str
    fans: int
    late: tuple[str, ...]
    earlier: tuple[str, ...]
    margin_told: str
    margin: Margin | None
    margin_own: Margin
    changed: tuple[tuple[str, str], ...] = ()

    @property
    def day(self) -> str:
        """The day on which it was registered, as the journal has it."""
        return self.time[:10]

    @property
    def is_before(self) -> bool:
        """Whether no fan's data were there when the measure was registered."""
        return not self.late and not self.earlier

    @property
    def words(self) -> str:
        """When it was registered and what was known by then, without a full stop."""
        return f"registered on {self.day}{self._beside_data()}"

    def _beside_data(self) -> str:
        of = f"of {self.fans} fan{'' if self.fans == 1 else 's'}"
        if self.late:
            return f", after data of {len(self.late)} {of} were in"
        if self.earlier:
            return f" before its data came in, but data of {len(self.earlier)} {of} bear an earlier date"
        return " before its data"

    @property
    def margin_words(self) -> str:
        """What is to be said of the margin beside it, without a full stop; "" where the lab's own was registered."""
        said = [] if self.margin else ["no margin was registered"]
        if self.margin not in (None, self.margin_own):
            said.append(
                f"the margin of {self.margin_told} that was registered is used, not the one of the lab’s settings"
            )
        said += [f"a margin of {told} was told on {day}, after its data" for day, told in self.changed]
        return "; ".join(said)


@dataclass(frozen=True)
class _Told:
    """A round's row as the journal has it."""

    sequence: int
    time: str
    round: Round


@dataclass
class Registry:
    """What the rounds of a lab registered, held against the order in which data came in."""

    lab: Lab
    book: Book
    graph: Graph

    def of(self, asked: Asked) -> Registered | None:
        """Which round registered a measure first, and what had been seen by then; None where no round names it.

        Data are the runs on which such numbers rest, used or excluded, of the fans that can be compared: a fan's curve
        in free air is data for its airflow through an obstacle.
        """
        told = [each for each in self._told if _asks_the_same(each.round.measure, asked)]
        if not told:
            return None
        data = self._data(asked)
        first = told[0]
        seen = min((self._arrival(run) for runs in data.values() for run in runs), default=told[-1].sequence)
        with_margin = [each for each in told if each.round.margin]
        in_time = [each for each in with_margin if each.sequence <= max(seen, first.sequence)]
        counting = in_time[-1] if in_time else None
        margin = margin_in(counting.round.margin or "", asked.measure) if counting else None
        return Registered(
            round=first.round.round,
            question=first.round.question or "",
            note=first.round.note or "",
            sequence=first.sequence,
            time=first.time,
            fans=len(data),
            late=tuple(fan for fan, runs in data.items() if self._is_late(runs, first.sequence)),
            earlier=tuple(
                fan for fan, runs in data.items()
                if not self._is_late(runs, first.sequence) and any(_is_earlier(run, first.time) for run in runs)
            ),
            margin_told=(counting.round.margin or "") if counting else "",
            margin=margin,
            margin_own=margin_of(self.book, asked.measure),
            changed=tuple(
                (each.time[:10], each.round.margin or "") for each in with_margin
                if each not in in_time and margin_in(each.round.margin or "", asked.measure) != margin
            ),
        )  # fmt: skip

    def _is_late(self, runs: Iterable[Placed], sequence: int) -> bool:
        return any(self._arrival(run) < sequence for run in runs)

    def _arrival(self, run: Placed) -> int:
        """The entry by which a run's file came in first, in whatever state."""
        by_bytes, by_name = self._arrivals
        found = [by_bytes.get(run.taken.sha256), by_name.get(run.taken.file)]
        return min(each for each in found if each is not None)

    def _data(self, asked: Asked) -> dict[str, list[Placed]]:
        """{fan: its runs on which such a number rests} of the fans that can be compared, by name."""
        purposes = rests_on(asked)
        both = [fan for fan in sorted(self.graph.fans)
                if asked.wants(fan) and all(self.graph.nodes(each, fan) for each in purposes)]  # fmt: skip
        size = asked.size or usual_size(self.book, both)
        fans = [fan for fan in both if not why_not(self.book, fan, size)]
        return {
            fan: [each for each in self._placed.get(fan, ()) if each.purpose in purposes and _is_of_fan(each)]
            for fan in fans
        }

    @cached_property
    def _placed(self) -> Mapping[str, list[Placed]]:
        found: dict[str, list[Placed]] = {}
        for each in place_all(self.book):
            if each.fan:
                found.setdefault(each.fan, []).append(each)
        return found

    @cached_property
    def _arrivals(self) -> tuple[dict[str, int], dict[str, int]]:
        """{SHA-256: entry} and {file: entry} by which originals came in, each the first."""
        by_bytes: dict[str, int] = {}
        by_name: dict[str, int] = {}
        for entry in journal.entries_of(self.lab.database, journal.ORIGINAL):
            by_bytes.setdefault(entry.name, entry.sequence)
            by_name.setdefault(str(entry.body.get("file", "")), entry.sequence)
        return by_bytes, by_name

    @cached_property
    def _told(self) -> list[_Told]:
        """What rounds that stand have told, in the journal's order, each time that it was told."""
        withdrawn = {
            entry.name: entry.sequence
            for entry in journal.entries_of(self.lab.database, journal.WITHDRAWN)
            if entry.body.get("kind") == Round.kind
        }
        return [
            _Told(entry.sequence, entry.time, _round(entry.body))
            for entry in journal.entries_of(self.lab.database, Round.kind)
            if entry.name in self.book.rounds and entry.sequence > withdrawn.get(entry.name, 0)
        ]


def _round(body: Mapping[str, str]) -> Round:
    made: Round = from_json(Round, body)
    return made


def _is_of_fan(run: Placed) -> bool:
    """Whether a run tells something of its fan: a recording of the room does not."""
    recorded = recorded_in(run.recording) if run.is_sound else None
    return recorded is None or recorded.is_of_fan


def _is_earlier(run: Placed, time: str) -> bool:
    """Whether a run's own date lies before a moment: by its clock, where it tells one, else by its day."""
    measured = run.taken.measured or ""
    if len(measured) >= len("2026-11-25T09:31"):
        return measured[:19] < time[:19]
    return bool(run.told_date) and run.told_date < time[:10]


def _asks_the_same(told: str, asked: Asked) -> bool:
    try:
        return words_of(asked_from(told)) == words_of(asked)
    except StillroomError:  # a row that was let in by an earlier version, of a measure that there is no more
        return False
