"""What is told of a logger's file: the run table's row before names and `--as`, these before the file itself; and
which instruments its channels were read by.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from stillroom.lab.benches import calibrations_of, in_force
from stillroom.lab.book import Book, Placed
from stillroom.lab.eras.rigs_by_date import rig_on
from stillroom.methods.airflow.chain import Chain
from stillroom.methods.heat.moments import seconds_of
from stillroom.records.bench import Calibration, Instrument

DAY = 86_400.0


@dataclass(frozen=True)
class HeatRun:
    """A logger's file with all that is told of it.

    Parameters
    ----------
    placed : with its place in the lab. logger : name of its clock, "" where nobody told.
    offset : to be added to its times [s], None where untold. session : files that are told to make one run, or "".
    moment : of its first row, ISO 8601 by its own clock; "" where the file tells no time of day.
    ended : of its last row, "" where that isn't known.
    """

    placed: Placed
    logger: str = ""
    offset: float | None = None
    session: str = ""
    moment: str = ""
    ended: str = ""

    @property
    def names_fan(self) -> bool:
        """Whether the file belongs to a fan; a log of the rig's whole day does not."""
        return bool(self.placed.fan)

    @property
    def hours(self) -> tuple[float, float]:
        """From when to when it lasts [s], with its offset; its whole day where the file tells no time."""
        start = seconds_of(self.moment)
        if start is None:
            day = seconds_of(f"{self.placed.date}T00:00") or 0.0
            return day, day + DAY
        end = seconds_of(self.ended)
        shift = self.offset or 0.0
        return start + shift, (start + DAY if end is None else end) + shift


def heat_run(placed: Placed) -> HeatRun:
    """All that is told of a placed log."""
    measured = placed.taken.measured or ""
    return HeatRun(
        placed=placed,
        logger=placed.logger,
        offset=placed.clock_offset,
        session=placed.session,
        moment=measured if seconds_of(measured) is not None else "",
        ended=placed.taken.ended or "",
    )


@dataclass(frozen=True)
class Read:
    """By what the channels of a log were read: {quantity: chain}, {quantity: name of the calibration in force}."""

    chains: Mapping[str, Chain]
    calibrations: Mapping[str, str]


class Readings:
    """The instruments of a lab's heat rigs, with the calibrations in force."""

    def __init__(self, book: Book) -> None:
        self._book, self._calibrations = book, calibrations_of(book)

    def of(self, placed: Placed) -> Read:
        """Those of one log, by its rig as it stood on its day; a channel without a role has none."""
        rig = rig_on(self._book.rigs, placed.rig, placed.date)
        roles = (rig.roles if rig else None) or {}
        chains: dict[str, Chain] = {}
        names: dict[str, str] = {}
        for quantity in placed.taken.quantities:
            instrument = self._book.instruments.get(roles.get(quantity, ""))
            if instrument is None:
                continue
            calibration = in_force(self._calibrations.get(instrument.instrument, ()), placed.date)
            chains[quantity] = _chain(instrument, calibration)
            names[quantity] = calibration.name if calibration else f"{instrument.instrument} (not calibrated)"
        return Read(chains, names)


def _chain(instrument: Instrument, calibration: Calibration | None) -> Chain:
    """How an instrument reads; a calibration that tells no uncertainty says that it keeps within its accuracy line."""
    chain = Chain.of(instrument, calibration)
    if calibration is None or calibration.gain_u or calibration.offset_u or calibration.linearity:
        return chain
    return replace(
        chain,
        relative=instrument.accuracy_relative or 0.0,
        absolute=instrument.accuracy_absolute or 0.0,
    )
