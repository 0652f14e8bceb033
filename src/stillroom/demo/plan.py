"""Which sample was mounted when on which rig, and what went wrong there: the short round of six fans."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import Enum

from stillroom.demo.bench import Disturbance
from stillroom.demo.fan import PWM_FREQUENCY

QUICK_DUTIES = (25, 40, 55, 70, 85, 100)
LEAK_AREA = 3.0e-4
"""Area through which the chamber leaks after the seal change [m²]."""
A_DAY = 4
"""Mountings of a day."""


class Kind(Enum):
    """How a mounting's sweeps are saved; which file says what is told by the run table or by its name."""

    COMMA = "comma"
    NAMED = "named"
    SEMICOLON = "semicolon"
    UTF16 = "utf-16"
    FIXED = "fixed"
    DUCT = "duct"
    BLOCKS = "blocks"
    LONG = "long"
    WORKBOOK = "workbook"
    ODS = "ods"


@dataclass(frozen=True)
class Mounting:
    """One act of fitting a sample to a rig.

    Parameters
    ----------
    fan, sample, number : whose it is; `number` counts the mountings of that sample.
    rig : "chamber" or "duct".
    day : working day of the round.
    kind : of file that its sweeps are saved in.
    really : the sample that truly was on the rig, where it is not the one that was written down.
    always : what is wrong in all of its sweeps.
    at : what is wrong in the sweep at one setting (duty [%] or voltage [V]) only.
    swapped : two settings whose sweeps were written down under each other's name.
    frequency : of the PWM generator [Hz].
    turns : whether each setting is swept up and then down.
    check : whether the reference fan is mounted to watch the rig.
    """

    fan: str
    sample: str
    number: int
    rig: str = "chamber"
    day: int = 0
    kind: Kind = Kind.COMMA
    really: str = ""
    always: Disturbance = Disturbance()
    at: Mapping[float, Disturbance] = field(default_factory=dict)
    swapped: tuple[float, float] | None = None
    frequency: float = PWM_FREQUENCY
    turns: bool = False
    check: bool = False

    @property
    def name(self) -> str:
        """Its name in the tables."""
        return f"{self.fan}-{self.sample}-m{self.number}"

    @property
    def true_sample(self) -> str:
        """The sample that was on the rig."""
        return self.really or self.sample

    @property
    def faulty(self) -> bool:
        """Whether anything is wrong in it."""
        return self != self.faultless()

    def wrong(self, setting: float) -> Disturbance:
        """What is wrong in the sweep at a setting."""
        return self.at.get(setting, self.always)

    def truly(self, setting: float) -> float:
        """The setting at which the sweep was made that is written down under `setting`."""
        if self.swapped is None or setting not in self.swapped:
            return setting
        first, second = self.swapped
        return second if setting == first else first

    def faultless(self) -> Mounting:
        """The same mounting with nothing wrong."""
        return replace(self, really="", always=Disturbance(), at={}, swapped=None, frequency=PWM_FREQUENCY)


CFM_OVER_M3H = 3600 * 0.3048**3 / 60
"""1 CFM in m³/h."""
MMH2O_OVER_PA = 9.80665
"""1 mmH₂O in Pa."""

QUICK_MOUNTINGS = (
    Mounting("Bracken", "s1", 1),
    Mounting("Tormentil", "s1", 1),
    Mounting("Bilberry", "s1", 1),
    Mounting("Asphodel", "s1", 1),
    Mounting("Sedge", "s1", 1),
    Mounting("Sundew", "s1", 1),
    Mounting("Bracken", "s2", 1),
    Mounting("Tormentil", "s2", 1, at={85: Disturbance(slowing=0.05)}),
    Mounting("Bilberry", "s2", 1),
    Mounting("Asphodel", "s1", 2, at={70: Disturbance(pressure_factor=1 / MMH2O_OVER_PA)}),
    Mounting("Sedge", "s1", 2, always=Disturbance(plugged="N12")),
    Mounting("Sundew", "s1", 2),
    Mounting("Bracken", "s1", 2),
    Mounting("Tormentil", "s1", 2, always=Disturbance(speed_factor=2.0)),
    Mounting("Sedge", "s1", 3),
    Mounting("Bracken", "s2", 2, really="s1"),
    Mounting(
        "Sundew", "s1", 3, rig="duct", kind=Kind.DUCT, at={55: Disturbance(flow_factor=1 / CFM_OVER_M3H)}
    ),
)
"""The six fans' mountings in the order of the round, without the last."""
LAST = Mounting("Bilberry", "s1", 2, always=Disturbance(leak=LEAK_AREA))
"""Made after the seal was changed, so that no other mounting stands on the leaking chamber."""

_QUICK_KINDS = {"Sedge": Kind.SEMICOLON, "Sundew": Kind.UTF16}
"""How the sweeps of some fans were saved; the simple rig has a kind of its own."""


def quick_mountings(*, faults: bool) -> tuple[Mounting, ...]:
    """All mountings of the short round, in order; without `faults` nothing goes wrong in them."""
    last_day = 2 + (len(QUICK_MOUNTINGS) - 1) // A_DAY
    found = [replace(each, day=1 + i // A_DAY) for i, each in enumerate(QUICK_MOUNTINGS)]
    found.append(replace(LAST, day=last_day))
    saved = [e if e.rig == "duct" else replace(e, kind=_QUICK_KINDS.get(e.fan, e.kind)) for e in found]
    return tuple(each if faults else each.faultless() for each in saved)
