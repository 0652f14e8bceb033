"""What the method is given beside the readings: what is told of each log, of the steps, and of the rig."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from stillroom.core.arrays import Array
from stillroom.methods.airflow.chain import Chain


@dataclass(frozen=True)
class LogTold:
    """What is told of one logger's file.

    Parameters
    ----------
    run : short identity. key : of the file as it is read. file : as people name it.
    logger : name of the clock, "" where nobody told: then the file has a clock of its own.
    moment : of its first row, ISO 8601 by its own clock, "" where the file tells no date.
    offset : stated, to be added to its times [s]; None where nobody told.
    chains : {quantity: how it is measured}.
    names_fan : whether the file itself belongs to the fan; a log of the whole day does not.
    """

    run: str
    key: str
    file: str
    logger: str = ""
    moment: str = ""
    offset: float | None = None
    chains: Mapping[str, Chain] = field(default_factory=dict)
    names_fan: bool = True


@dataclass(frozen=True)
class Log:
    """One logger's file as it was read.

    Parameters
    ----------
    told : of it. columns : {quantity: (n,)} [SI], "time" [s since its first row] among them; an empty cell is NaN.
    lines : the line of each reading in the file. gaps, repeated : counts by the reader.
    """

    told: LogTold
    columns: Mapping[str, Array]
    lines: Sequence[int] = ()
    gaps: int = 0
    repeated: int = 0


@dataclass(frozen=True)
class StepTold:
    """A setting within a run, as it was planned or told.

    Parameters
    ----------
    number : its place in the order. first, last : since the run's start [s]; None where it is planned only.
    moment, until : the same as a time of day, ISO 8601; "" where told otherwise.
    kind, setting : "duty" [1], "volts" [V] or "speed" [1/s]; "" and None where nobody told.
    noise : level that it stands for, by the set list [dB(A)].
    """

    number: int
    first: float | None = None
    last: float | None = None
    moment: str = ""
    until: str = ""
    kind: str = ""
    setting: float | None = None
    noise: float | None = None


@dataclass(frozen=True)
class RigTold:
    """The heat rig as it stood on the day of the run.

    Parameters
    ----------
    name : of the rig. nominal : heat to which temperature rises are brought [W]. fans : that blow on the radiator.
    coolant : in words, "" where nobody told. flow : of the coolant, set [m³/s]. pump_power : of its pump [W].
    tau : time constant told [s]. radiator : that the fans blow through, an obstacle's name or "".
    coolant_era : day of the last filling or topping-up, such as "2026-03-02"; "" where none was noted.
    """

    name: str
    nominal: float
    fans: int = 1
    coolant: str = ""
    flow: float | None = None
    pump_power: float | None = None
    tau: float | None = None
    radiator: str = ""
    coolant_era: str = ""


@dataclass(frozen=True)
class HeatTold:
    """All that is told of a heat mounting.

    Parameters
    ----------
    identity : of the mounting. rig : as it stood. steps : of each run, planned or told. tolerance : of steadiness [K].
    setting_kind, setting : of the whole run, where its file or its row tells one. trials : number of trials.
    baths : files of all probes in one bath, the last before the run first.
    """

    identity: str
    rig: RigTold
    steps: tuple[tuple[StepTold, ...], ...] = ()
    tolerance: float = 0.05
    setting_kind: str = ""
    setting: float | None = None
    trials: int = 2000
    baths: tuple[Log, ...] = ()
