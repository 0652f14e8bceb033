"""The bench of each run, made once for all that share it: rig, calibrations in force, nozzles, accuracy."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from stillroom.errors import UnknownThing
from stillroom.lab.book import Book, Placed
from stillroom.lab.eras.rigs_by_date import rig_on
from stillroom.methods.airflow.bench import Bench
from stillroom.methods.airflow.chain import Chain
from stillroom.readers.reading.recording import READER_VERSION
from stillroom.records.acts import Taken
from stillroom.records.bench import Calibration, Rig
from stillroom.records.keys import key_of


@dataclass(frozen=True)
class UsedBench:
    """A bench as runs use it.

    Parameters
    ----------
    bench : with the chain of each quantity that was recorded. calibrations : names of those in force.
    key : of all that the method reads of the bench, but for the nozzles.
    """

    bench: Bench
    calibrations: dict[str, str]
    key: str


class Benches:
    """The benches of a lab as its book stands."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self._calibrations = calibrations_of(book)
        self._of_day: dict[tuple[Any, ...], UsedBench] = {}
        self._benches: dict[tuple[Any, ...], UsedBench] = {}
        self._nozzles: dict[tuple[str, ...], str] = {}
        self._layouts: dict[int, str] = {}

    def run(self, placed: Placed) -> tuple[str, UsedBench]:
        """The key of a run, and the bench that it used.

        Raises
        ------
        UnknownThing : a rig or a nozzle without a record.
        BadInput : an arrangement that the method doesn't know.
        """
        taken = placed.taken
        used = self._bench(placed)
        if taken.nozzles and not placed.rig and self.book.rigs:
            known = sorted({each.rig for each in self.book.rigs.values()})
            raise UnknownThing(
                "rig", place=taken.words, found="none named, but nozzles", expected=_ways_to_name(known)
            )
        for name in taken.nozzles or ():
            used.bench.nozzle(name, taken.words)
        nozzles = self._nozzle_key(taken.nozzles or ())
        part = () if taken.part is None else (taken.first, taken.last)
        key = key_of("run", taken.sha256, self._layout_key(taken), READER_VERSION, used.key, nozzles, *part)
        return key, used

    def _bench(self, placed: Placed) -> UsedBench:
        taken = placed.taken
        rig = rig_on(self.book.rigs, placed.rig, placed.date)
        if placed.rig and rig is None:
            raise UnknownThing(
                f"rig {placed.rig!r}", place=taken.words, found="no such rig", expected="a rig in a TOML file"
            )
        day = (placed.rig, taken.quantities, placed.date[:10], _accuracy(rig, taken))
        found = self._of_day.get(day)
        if found is None:
            found = self._of_day[day] = self._shared(placed, rig, day[3])
        return found

    def _shared(self, placed: Placed, rig: Rig | None, accuracy: tuple[float, float] | None) -> UsedBench:
        """The bench by the calibrations in force: the same for all days between two of them."""
        in_force = tuple(self._in_force(rig, each, placed.date) for each in placed.taken.quantities)
        names = tuple(each.name if each else "" for each in in_force)
        shared = (rig.name if rig else placed.rig, placed.taken.quantities, names, accuracy)
        if shared not in self._benches:
            self._benches[shared] = self._made(placed, rig, in_force, accuracy)
        return self._benches[shared]

    def _made(
        self,
        placed: Placed,
        rig: Rig | None,
        in_force: tuple[Calibration | None, ...],
        accuracy: tuple[float, float] | None,
    ) -> UsedBench:
        chains: dict[str, Chain] = {}
        names: dict[str, str] = {}
        for quantity, calibration in zip(placed.taken.quantities, in_force, strict=True):
            instrument = self.book.instruments.get(_role(rig, quantity))
            if instrument is None:
                continue
            chains[quantity] = Chain.of(instrument, calibration)
            names[quantity] = calibration.name if calibration else f"{instrument.instrument} (not calibrated)"
        bench = Bench.of(rig or Rig(rig=placed.rig), chains, self.book.nozzles, accuracy)
        stand_ins = [each for each in placed.taken.quantities if each not in chains]
        owner = bench.rig if stand_ins else ""  # the errors of a stand-in belong to the rig
        return UsedBench(bench, names, key_of("bench", bench.arrangement, chains, owner, accuracy))

    def _in_force(self, rig: Rig | None, quantity: str, date: str) -> Calibration | None:
        """The latest calibration of a quantity's instrument on a date; the first where all are later."""
        return in_force(self._calibrations.get(_role(rig, quantity), ()), date)

    def _nozzle_key(self, names: tuple[str, ...]) -> str:
        found = self._nozzles.get(names)
        if found is None:
            nozzles = [self.book.nozzles[each] for each in names]
            parts = [(each.nozzle, each.bore, each.bore_u, each.length_ratio) for each in nozzles]
            found = self._nozzles[names] = key_of("nozzles", parts)
        return found

    def _layout_key(self, taken: Taken) -> str:
        found = self._layouts.get(id(taken.layout))  # equal layouts are the same object in most cases
        if found is None:
            found = self._layouts[id(taken.layout)] = key_of("layout", taken.layout)
        return found


def _ways_to_name(rigs: list[str]) -> str:
    return f"--as rig=NAME, a run table, or rig in lab.toml, with one of {', '.join(rigs)}"


def _role(rig: Rig | None, quantity: str) -> str:
    return ((rig.roles if rig else None) or {}).get(quantity, "")


def in_force(own: Sequence[Calibration], date: str) -> Calibration | None:
    """Of an instrument's calibrations, by date, the latest on a date; the first where all are later."""
    return own[max(0, bisect_right(own, date[:10], key=lambda each: each.date) - 1)] if own else None


def calibrations_of(book: Book) -> dict[str, list[Calibration]]:
    """The calibrations of each instrument, by date."""
    found: dict[str, list[Calibration]] = defaultdict(list)
    for each in sorted(book.calibrations.values(), key=lambda each: each.date):
        found[each.instrument].append(each)
    return found


def _accuracy(rig: Rig | None, taken: Taken) -> tuple[float, float] | None:
    said = taken.said or {}
    if "accuracy_relative" in said:
        return float(said["accuracy_relative"]), float(said.get("accuracy_absolute", 0.0))
    if rig is None or (rig.accuracy_relative is None and rig.accuracy_absolute is None):
        return None
    return rig.accuracy_relative or 0.0, rig.accuracy_absolute or 0.0
