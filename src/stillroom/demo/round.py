"""The rounds of the invented laboratory: the short one of six fans, and the whole one with all that befell it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from stillroom.demo.bench import Disturbance
from stillroom.demo.calendar import Calendar
from stillroom.demo.catalogue import BY_VOLTAGE, OTHERS, QUICK, REFERENCE_FAN
from stillroom.demo.fan import Control, Fan, Setting
from stillroom.demo.plan import A_DAY, LAST, QUICK_DUTIES, QUICK_MOUNTINGS, Kind, Mounting, quick_mountings

FULL_DUTIES = (20, 28, 37, 46, 55, 64, 73, 82, 91, 100)
VOLTAGES = (5.0, 7.0, 9.0, 12.0)
CHECK_SETTING = Setting(100)
CLOSELY_WATCHED = (1, 6, 7, 8)
"""Days with a check in the middle too, beside the first and the last."""
SWAP_DAY = 4
"""The radiator was exchanged for a new one of its kind in the evening of this day."""
DRIFT_DAYS = (6, 7)
"""The nozzle gauge's tubes leaked more and more on these days."""
DRIFT = 0.015
"""By how much the flow reads lower with each of these days, as a share."""
TUBES_DAY = 8
"""In the morning of this day the tubes were renewed and led to other taps."""
TUBES = 1.012
"""What the flow reads since, over what it read before the drift."""
QUIET_DAY = 7
"""In the morning of this day the quiet room's door got a new seal."""
SLOW_GENERATOR = 2_500.0
"""Frequency of the spare PWM generator [Hz]."""

WRONG_BORE = ("N25", 24.1e-3)
ZERO_DRIFT = 1.6
TEST_LEAK = 0.04 / 3600
"""What the sound chamber leaks at its test [m³/s]."""


@dataclass(frozen=True)
class Happening:
    """A line in the log: on a working day at a time of day.

    Parameters
    ----------
    changes : whether results move with it. leak : of the chamber at its leak test [m³/s].
    later : how many days after that working day: at a weekend.
    """

    day: int
    time: str
    rig: str
    text: str
    changes: bool
    leak: float | None = None
    later: int = 0

    def moment(self, calendar: Calendar) -> str:
        """When it was, ISO."""
        day = date.fromisoformat(calendar.day(self.day)) + timedelta(days=self.later)
        return f"{day.isoformat()}T{self.time}"


DOOR_SEAL = Happening(QUIET_DAY, "08:10", "quiet", "seal of the quiet room's door renewed", False)
"""What befell the quiet room in the whole round; nothing moved with it."""


@dataclass(frozen=True)
class Round:
    """What is done in a round.

    Parameters
    ----------
    full : whether it is the whole one.
    mountings : in order.
    duties : settings of fans with a control wire [%].
    points : readings of a sweep.
    log : the rig's log. swap_day : on which the reference radiator was exchanged; 0 where it never was.
    """

    full: bool
    mountings: tuple[Mounting, ...]
    duties: tuple[float, ...]
    points: int
    log: tuple[Happening, ...]
    swap_day: int = 0

    @property
    def last(self) -> int:
        """The last working day."""
        return max(each.day for each in self.mountings)

    def settings(self, fan: Fan, mounting: Mounting) -> tuple[Setting, ...]:
        """The settings of a mounting's sweeps."""
        if mounting.check:
            return (CHECK_SETTING,)
        if fan.control is Control.VOLTS:
            return tuple(Setting(each, Control.VOLTS) for each in VOLTAGES)
        return tuple(Setting(each) for each in self.duties)

    def nozzle_factor(self, mounting: Mounting) -> float:
        """What the nozzle gauge shows at a mounting over what it showed on the first day."""
        return _nozzle_factor(mounting.day, self.share_of_day(mounting)) if self.full else 1.0

    def order(self, mounting: Mounting) -> int:
        """Its place among all mountings of fans, the reference fan's left out."""
        return [each.name for each in self.mountings if each.check == mounting.check].index(mounting.name)

    def share_of_day(self, mounting: Mounting) -> float:
        """When in its day a mounting was made, 0 to 1."""
        same = [each.name for each in self.mountings if each.day == mounting.day]
        return same.index(mounting.name) / max(1, len(same) - 1)


def round_of(*, full: bool, faults: bool) -> Round:
    """The short or the whole round; without `faults` nothing goes wrong in its mountings."""
    if not full:
        planned = quick_mountings(faults=faults)
        return Round(False, planned, QUICK_DUTIES, 12, _log(planned[-1].day, told=True))
    planned = full_mountings(faults=faults)
    last = max(each.day for each in planned)
    more = (
        Happening(
            SWAP_DAY, "16:10", "chamber", "rad27 leaked, a new one of its kind put in its place", False
        ),
        Happening(
            TUBES_DAY, "07:40", "chamber", "tubes of the nozzle gauge renewed, led to other taps", True
        ),
    )
    return Round(True, planned, FULL_DUTIES, 13, (*_log(last, told=False), *more), SWAP_DAY)


def _log(last: int, *, told: bool) -> tuple[Happening, ...]:
    """What both rounds hold; in the whole one nobody thought that a new seal could change anything."""
    return (
        Happening(0, "08:30", "chamber", "leak test passed, zeros taken", False, TEST_LEAK),
        Happening(0, "16:45", "chamber", "obstacles measured, chamber swept out", False),
        Happening(last, "07:50", "chamber", "seal of the fan plate changed", told),
    )


def _nozzle_factor(day: int, share: float) -> float:
    """The pressure goes with the square of the flow."""
    if day >= TUBES_DAY:
        return TUBES**2
    if day < DRIFT_DAYS[0]:
        return 1.0
    return (1.0 - DRIFT * (day - DRIFT_DAYS[0] + share)) ** 2


# --- the whole round ---------------------------------------------------------------------------------------

_BY_DAY = (
    Kind.NAMED,
    Kind.SEMICOLON,
    Kind.UTF16,
    Kind.WORKBOOK,
    Kind.BLOCKS,
    Kind.FIXED,
    Kind.ODS,
    Kind.LONG,
)
_TWICE_BOUGHT = ("Crowberry", "Bogbean", "Butterwort", "Bearberry", "Spearwort")
_THRICE_BOUGHT = ("Crowberry", "Bearberry")
_GONE_WRONG = (
    Mounting("Crowberry", "s1", 3, always=Disturbance(bore=WRONG_BORE)),
    Mounting("Cloudberry", "s1", 3, kind=Kind.LONG, frequency=SLOW_GENERATOR),
    Mounting("Gorse", "s1", 3, kind=Kind.SEMICOLON, swapped=(55, 73)),
    Mounting("Milkwort", "s1", 3, kind=Kind.SEMICOLON, at={82: Disturbance(zero_drift=ZERO_DRIFT)}),
    Mounting("Bedstraw", "s1", 3, rig="duct", kind=Kind.DUCT),
)


def full_mountings(*, faults: bool) -> tuple[Mounting, ...]:
    """All mountings of the whole round, with the reference fan's, in order."""
    names = [each for each in OTHERS if each not in QUICK]
    found = [_at_known_duties(each) for each in QUICK_MOUNTINGS]
    found += [Mounting(name, "s1", number) for number in (1, 2) for name in names]
    found += [Mounting(name, "s2", 1) for name in _TWICE_BOUGHT]
    found += [Mounting(name, "s3", 1) for name in _THRICE_BOUGHT]
    found += _GONE_WRONG
    placed = [_on_day(each, 1 + i // A_DAY) for i, each in enumerate(found)]
    placed.append(_on_day(LAST, placed[-1].day + 1))
    days = _with_checks(placed)
    return tuple(each if faults else each.faultless() for each in days)


def _on_day(mounting: Mounting, day: int) -> Mounting:
    """With its day, and the kind of file that was usual on it."""
    kind = mounting.kind if mounting.kind is not Kind.COMMA else _BY_DAY[(day - 1) % len(_BY_DAY)]
    if kind is Kind.NAMED and mounting.fan in BY_VOLTAGE:
        kind = Kind.LONG
    turns = kind is Kind.LONG
    return replace(mounting, day=day, kind=kind, turns=turns)


def _with_checks(placed: list[Mounting]) -> list[Mounting]:
    """With the reference fan first and last of each day but the round's last, and in the middle of some."""
    found: list[Mounting] = []
    number, last = 0, placed[-1].day
    for day in range(1, last):
        own = [each for each in placed if each.day == day]
        middle = len(own) // 2
        parts = ([], own[:middle], own[middle:]) if day in CLOSELY_WATCHED else ([], own)
        for part in parts:
            number += 1
            found += [*part, Mounting(REFERENCE_FAN, "s1", number, day=day, check=True)]
    return [*found, *(each for each in placed if each.day == last)]


def _at_known_duties(mounting: Mounting) -> Mounting:
    """With the duties of the whole round's finer steps in place of the short round's."""

    def nearest(duty: float) -> float:
        return min(FULL_DUTIES, key=lambda known: abs(known - duty))

    return replace(mounting, at={nearest(duty): wrong for duty, wrong in mounting.at.items()})
