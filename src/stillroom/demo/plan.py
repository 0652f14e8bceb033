"""Which sample was mounted when on which rig, and what went wrong there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from stillroom.demo.bench import Disturbance
from stillroom.demo.catalogue import QUICK

QUICK_DUTIES = (25, 40, 55, 70, 85, 100)
FULL_DUTIES = (20, 28, 37, 46, 55, 64, 73, 82, 91, 100)
FIRST_DAY = date(2026, 3, 2)
LEAK_AREA = 3.0e-4
"""Area through which the chamber leaks after the seal change [m²]."""


@dataclass(frozen=True)
class Mounting:
    """One act of fitting a sample to a rig.

    Parameters
    ----------
    fan, sample, number : whose it is; `number` counts the mountings of that sample.
    rig : "chamber" or "duct".
    really : the sample that truly was on the rig, where it is not the one that was written down.
    always : what is wrong in all of its sweeps.
    at_duty : what is wrong in the sweep at one duty [%] only.
    """

    fan: str
    sample: str
    number: int
    rig: str = "chamber"
    really: str = ""
    always: Disturbance = Disturbance()
    at_duty: Mapping[int, Disturbance] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """Its name in the tables."""
        return f"{self.fan}-{self.sample}-m{self.number}"

    @property
    def true_sample(self) -> str:
        """The sample that was on the rig."""
        return self.really or self.sample

    def wrong(self, duty: int) -> Disturbance:
        """What is wrong in the sweep at a duty [%]."""
        return self.at_duty.get(duty, self.always)

    def faultless(self) -> Mounting:
        """The same mounting with nothing wrong."""
        return Mounting(self.fan, self.sample, self.number, self.rig)


CFM_OVER_M3H = 3600 * 0.3048**3 / 60
"""1 CFM in m³/h."""
MMH2O_OVER_PA = 9.80665
"""1 mmH₂O in Pa."""

_MOUNTINGS = (
    Mounting("Bracken", "s1", 1),
    Mounting("Tormentil", "s1", 1),
    Mounting("Bilberry", "s1", 1),
    Mounting("Asphodel", "s1", 1),
    Mounting("Sedge", "s1", 1),
    Mounting("Sundew", "s1", 1),
    Mounting("Bracken", "s2", 1),
    Mounting("Tormentil", "s2", 1, at_duty={85: Disturbance(slowing=0.05)}),
    Mounting("Bilberry", "s2", 1),
    Mounting("Asphodel", "s1", 2, at_duty={70: Disturbance(pressure_factor=1 / MMH2O_OVER_PA)}),
    Mounting("Sedge", "s1", 2, always=Disturbance(plugged="N12")),
    Mounting("Sundew", "s1", 2),
    Mounting("Bracken", "s1", 2),
    Mounting("Tormentil", "s1", 2, always=Disturbance(speed_factor=2.0)),
    Mounting("Sedge", "s1", 3),
    Mounting("Bracken", "s2", 2, really="s1"),
    Mounting("Sundew", "s1", 3, rig="duct", at_duty={55: Disturbance(flow_factor=1 / CFM_OVER_M3H)}),
)
"""The six fans' mountings in the order of the round, without the last."""
_LAST = Mounting("Bilberry", "s1", 2, always=Disturbance(leak=LEAK_AREA))
"""Made after the seal was changed, so that no other mounting stands on the leaking chamber."""


def duties(*, full: bool) -> tuple[int, ...]:
    """The settings of the speed control in a round [%]."""
    return FULL_DUTIES if full else QUICK_DUTIES


def mountings(names: tuple[str, ...], *, faults: bool, full: bool) -> tuple[tuple[Mounting, str], ...]:
    """All mountings of a round with their dates, in order.

    Parameters
    ----------
    names : the fans.
    faults : whether what goes wrong goes wrong.
    """
    others = [name for name in names if name not in QUICK]
    found = list(_MOUNTINGS)
    for number in (1, 2):
        found += [Mounting(name, "s1", number) for name in others]
    found += [Mounting(name, "s2", 1) for name in others[::3]]
    last_day = 2 + (len(found) - 1) // 4
    found.append(_LAST)
    if not faults:
        found = [each.faultless() for each in found]
    if full:
        found = [_at_known_duties(each) for each in found]
    days = [1 + i // 4 for i in range(len(found) - 1)] + [last_day]
    return tuple((each, _day(day)) for each, day in zip(found, days, strict=True))


def obstacle_day() -> str:
    """The day on which the obstacles are measured."""
    return _day(0)


def seal_day(planned: tuple[tuple[Mounting, str], ...]) -> str:
    """The day on which the seal is changed: that of the last mounting."""
    return planned[-1][1]


def _at_known_duties(mounting: Mounting) -> Mounting:
    """With the duties of the whole round's finer steps in place of the short round's."""
    nearest = {duty: min(FULL_DUTIES, key=lambda full: abs(full - duty)) for duty in QUICK_DUTIES}
    moved = {nearest[duty]: wrong for duty, wrong in mounting.at_duty.items()}
    return Mounting(
        mounting.fan, mounting.sample, mounting.number, mounting.rig, mounting.really, mounting.always, moved
    )


def _day(working_day: int) -> str:
    """The date of a working day of the round, Monday to Friday."""
    weeks, days = divmod(working_day, 5)
    return (FIRST_DAY + timedelta(days=7 * weeks + days)).isoformat()
