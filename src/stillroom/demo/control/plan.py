"""What is done on the bench for control: response both ways, start attempts, an open control wire, inrush."""

from __future__ import annotations

from dataclasses import dataclass, replace

RIG = "control"
GENERATOR = 25_000.0
SLOW_GENERATOR = 2_500.0
"""Frequency of the spare PWM generator [Hz]."""
DUTIES = (0, 4, 8, 12, 16, 20, 25, 30, 35, 40, 50, 60, 70, 80, 90, 100)
"""Steps of the response [%], up, then down again."""
VOLTAGES = (0.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0)
ATTEMPTS = 10


@dataclass(frozen=True)
class ControlRun:
    """One sample on the bench for control.

    Parameters
    ----------
    fan, sample, number : whose it is; `number` counts its mountings there. day, hour : when.
    frequency : of the generator [Hz]. attempts : starts that were tried; 0 for none.
    failed : attempts that failed, from 1. open_wire, inrush : whether these were recorded.
    """

    fan: str
    sample: str = "s1"
    number: int = 1
    day: int = 0
    hour: float = 9.0
    frequency: float = GENERATOR
    attempts: int = ATTEMPTS
    failed: tuple[int, ...] = ()
    open_wire: bool = True
    inrush: bool = True

    @property
    def name(self) -> str:
        """Its name in the tables."""
        return f"{self.fan}-{self.sample}-c{self.number}"

    def faultless(self) -> ControlRun:
        """The same with nothing wrong; a start that failed is the fan's own doing."""
        return replace(self, frequency=GENERATOR)


def quick_control(*, faults: bool) -> tuple[ControlRun, ...]:
    """The short round: two fans."""
    found = (ControlRun("Bracken", day=4, hour=14.0), ControlRun("Sedge", day=4, hour=15.0, failed=(7,)))
    return found if faults else tuple(each.faultless() for each in found)


def full_control(*, faults: bool) -> tuple[ControlRun, ...]:
    """The whole round: fourteen fans of 120 mm, and one of them again with the right generator."""
    fans = ("Bracken", "Tormentil", "Bilberry", "Asphodel", "Sedge", "Sundew", "Crowberry", "Cottongrass",
            "Cloudberry", "Bogbean", "Gorse", "Milkwort", "Butterwort", "Cranberry")  # fmt: skip
    found = [ControlRun(fan, day=11 + i // 7, hour=9.0 + i % 7) for i, fan in enumerate(fans)]
    found = [replace(each, failed=(7,)) if each.fan == "Sedge" else each for each in found]
    found = [replace(each, frequency=SLOW_GENERATOR) if each.fan == "Gorse" else each for each in found]
    found.append(ControlRun("Gorse", number=2, day=13))
    return tuple(found if faults else [each.faultless() for each in found])
