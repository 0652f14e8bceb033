"""What is true in the invented laboratory and what was made wrong on purpose. Values in SI."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from stillroom.demo.bench import Chamber
from stillroom.demo.control.truth import ControlTruth
from stillroom.demo.fan import Crossing, Fan, Obstacle, crossings
from stillroom.demo.heat.truth import HeatTruth
from stillroom.demo.sound.truth import SoundTruth
from stillroom.demo.spreadsheet import PlainRow

FULL_SPEED = "full speed"
GIVEN_SPEED = 1500 / 60
"""The speed at which curves are stated [1/s]."""
GIVEN_SPEEDS = {"1200 rpm": 1200 / 60, "1500 rpm": GIVEN_SPEED}
"""The given speeds at which operating points are stated [1/s], by the condition's name."""
MODEL = ""
"""In place of a sample's name: the fan as a model, the mean of all that were ever made."""


@dataclass(frozen=True)
class FanTruth:
    """A fan's own values at standard density, as a model (`sample` is empty) or one sample.

    Parameters
    ----------
    full_speed : at free delivery and 100 % duty [1/s].
    free_airflow : at full speed [m³/s]. max_pressure : highest static pressure at full speed [Pa].
    free_airflow_given, max_pressure_given : the same at 1,500 rpm.
    flows, pressures : its curve at 1,500 rpm [m³/s], [Pa].
    """

    fan: str
    sample: str
    full_speed: float
    free_airflow: float
    max_pressure: float
    free_airflow_given: float
    max_pressure_given: float
    flows: tuple[float, ...]
    pressures: tuple[float, ...]


@dataclass(frozen=True)
class Operating:
    """Where a fan works against an obstacle at standard density.

    Parameters
    ----------
    condition : "full speed" (100 % duty; the fan slows down under its load), "1200 rpm" or "1500 rpm"
        (held there; only fans that reach it).
    points : all crossings of the two curves, by rising flow.
    """

    fan: str
    sample: str
    obstacle: str
    condition: str
    points: tuple[Crossing, ...]

    @property
    def unique(self) -> bool:
        """Whether there is one crossing only."""
        return len(self.points) == 1

    @property
    def flow(self) -> float:
        """The operating airflow [m³/s].

        Raises
        ------
        ValueError : there are several.
        """
        if not self.unique:
            raise ValueError(f"{self.fan} meets {self.obstacle} {len(self.points)} times at {self.condition}")
        return self.points[0].flow


@dataclass(frozen=True)
class Fault:
    """One thing that was made wrong on purpose.

    Parameters
    ----------
    name : short, unique.
    cause : in the words of the trade, as a finding would name it.
    fan, sample, mounting : where (as written down in the tables).
    files : the exports that carry it, relative to the folder.
    done : what was done.
    quantity : the recorded quantity that is wrong, by its name in the vocabulary; empty for a mix-up.
    factor : recorded value over true value where that is one number; None where it is not.
    before_after : which number to show before and after.
    remedy : what puts it right.
    rule : number of the rule that must find it; 0 where no rule but a ranking or a reader tells of it.
    words : what the finding's cause, or where it has none its text, must say.
    setting : of the one sweep that is wrong ("55 %"); empty where the whole mounting is.
    """

    name: str
    cause: str
    fan: str
    sample: str
    mounting: str
    files: tuple[str, ...]
    done: str
    quantity: str
    factor: float | None
    before_after: str
    remedy: str
    rule: int
    words: str
    setting: str = ""


@dataclass(frozen=True)
class FalseClaim:
    """A claim on a box that the fan doesn't keep; `claimed` and `true` in SI."""

    fan: str
    quantity: str
    claimed: float
    true: float


@dataclass(frozen=True)
class NozzleChange:
    """A corrected certificate for the story: one bore changes [m], and much hangs on it."""

    nozzle: str
    before: float
    after: float
    reason: str


@dataclass(frozen=True)
class GaugeTruth:
    """How a gauge truly reads: gain · true + offset + the part of its range."""

    gauge: str
    quantity: str
    offset: float
    gain: float
    ranges: tuple[float, ...]


@dataclass(frozen=True)
class Truth:
    """Everything that the exports hide.

    Parameters
    ----------
    seed, full, today : what the laboratory was made with.
    fans : models and samples. obstacles : (name, a [Pa/(m³/s)], b [Pa/(m³/s)²]), NAME@VERSION where there are several.
    operating : every model and sample through every obstacle of its size.
    faults, false_claims : what was made wrong.
    reference_obstacle : in its latest version. reference_fan : that watches the rig; empty where none does.
    near_tie : fans that are nearly equal through `reference_obstacle`.
    stalling : (fan, obstacle) with several operating points.
    nozzle_change : for the story. bores : true [m], by nozzle. coefficient : true over formula's.
    plain : the ranking that a plain spreadsheet makes of the same readings.
    sound, heat : of the quiet room and the heat rig; None where nothing was recorded there.
    control : of the bench for control.
    """

    seed: int
    full: bool
    today: str
    fans: tuple[FanTruth, ...]
    obstacles: tuple[tuple[str, float, float], ...]
    operating: tuple[Operating, ...]
    faults: tuple[Fault, ...]
    false_claims: tuple[FalseClaim, ...]
    reference_obstacle: str
    reference_fan: str
    near_tie: tuple[str, ...]
    stalling: tuple[str, str]
    nozzle_change: NozzleChange
    gauges: tuple[GaugeTruth, ...]
    bores: dict[str, float]
    coefficient: float
    plain: tuple[PlainRow, ...]
    sound: SoundTruth | None = None
    heat: HeatTruth | None = None
    control: tuple[ControlTruth, ...] = ()

    def fan(self, name: str, sample: str = MODEL) -> FanTruth:
        """The values of a fan model, or of one of its samples.

        Raises
        ------
        LookupError : there is none.
        """
        for each in self.fans:
            if (each.fan, each.sample) == (name, sample):
                return each
        raise LookupError(f"no fan {name!r} with sample {sample!r}")

    def operating_point(
        self, fan: str, obstacle: str, condition: str = FULL_SPEED, sample: str = MODEL
    ) -> Operating:
        """Where a fan works against an obstacle.

        Raises
        ------
        LookupError : the fan doesn't reach that speed, or is not of the obstacle's size.
        """
        for each in self.operating:
            if (each.fan, each.sample, each.obstacle, each.condition) == (fan, sample, obstacle, condition):
                return each
        raise LookupError(f"no operating point of {fan!r} {sample!r} through {obstacle!r} at {condition!r}")

    def ranking(self, obstacle: str, condition: str = FULL_SPEED) -> tuple[tuple[str, float], ...]:
        """Fan models with one operating point through an obstacle and their airflow [m³/s], best first."""
        fitting = [
            (each.fan, each.flow)
            for each in self.operating
            if (each.sample, each.obstacle, each.condition) == (MODEL, obstacle, condition) and each.unique
        ]
        return tuple(sorted(fitting, key=lambda pair: -pair[1]))

    def as_json(self) -> str:
        """The truth as JSON, SI values, field names as here."""
        return json.dumps(asdict(self), ensure_ascii=False, indent=1) + "\n"

    def save(self, path: Path) -> None:
        """Write the JSON to a file."""
        path.write_text(self.as_json(), encoding="utf-8", newline="\n")


def fan_truth(fan: Fan, sample: str) -> FanTruth:
    """A fan's own values."""
    steps = [i / 200 for i in range(201)]
    at_full = [fan.pressure(q, fan.loaded_speed(fan.full_speed, q)) for q in steps]
    pressures = tuple(fan.pressure(q, GIVEN_SPEED) for q in steps)
    return FanTruth(
        fan=fan.name,
        sample=sample,
        full_speed=fan.full_speed,
        free_airflow=fan.flow(1.0, fan.full_speed),
        max_pressure=max(at_full),
        free_airflow_given=fan.flow(1.0, GIVEN_SPEED),
        max_pressure_given=max(pressures),
        flows=tuple(fan.flow(q, GIVEN_SPEED) for q in steps),
        pressures=pressures,
    )


def operating_truth(fan: Fan, sample: str, obstacle: Obstacle, name: str) -> Iterator[Operating]:
    """Where a fan works against an obstacle, at full speed and at the given speeds that it reaches.

    `name` is the obstacle's, with its version where there are several.
    """
    full = crossings(fan, obstacle.drop, free_speed=fan.full_speed, sagging=True)
    yield Operating(fan.name, sample, name, FULL_SPEED, full)
    for condition, speed in GIVEN_SPEEDS.items():
        if speed <= fan.full_speed:
            held = crossings(fan, obstacle.drop, free_speed=speed, sagging=False)
            yield Operating(fan.name, sample, name, condition, held)


def gauge_truth(chamber: Chamber, names: dict[str, str]) -> tuple[GaugeTruth, ...]:
    """The hidden errors of the chamber's gauges; `names` by quantity."""
    return tuple(
        GaugeTruth(names[quantity], quantity, bias.offset, bias.gain, bias.ranges)
        for quantity, bias in chamber.biases.items()
    )
