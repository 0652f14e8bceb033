"""Rigs, instruments, calibrations, nozzles and obstacles: what measures, and what the air goes through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from stillroom.records.fields import told

ALWAYS = "always"
"""In the place of a date: the record puts right what was told before, for all runs."""


@dataclass(frozen=True, kw_only=True)
class Rig:
    """A rig, its arrangement and the instruments that are its defaults.

    `roles` names the instrument for each quantity: {"nozzle_pressure": "dp-2", …}. `accuracy` is one line
    for a rig whose instruments aren't known ("± 3 % of reading"). `since` is the date from which the rig stands
    so, None or `ALWAYS` where it always did: runs are reduced by what stood on their day.

    Of a rig for sound (`purpose` "sound"): where the microphone stands where a run doesn't tell it, in the words of
    `Run`, and the lowest frequency at which the room is qualified.

    Of a heat rig (`purpose` "heat"): `nominal_power` of its heater, `radiator` (the name of an obstacle) and the
    number of `fans` that blow on it, `coolant` ("water", or "glycol 30 %") with the `coolant_flow` to which the loop
    is set and the heat that its pump adds, the time constant `tau` where it is known, and the pattern of the files
    that its loggers write (`watch`).
    """

    kind: ClassVar[str] = "rig"
    rig: str = told("rig", required=True)
    since: str | None = told("since")
    purpose: str | None = told("kind")
    arrangement: str | None = told("arrangement")
    roles: dict[str, str] | None = told("roles")
    nozzles: tuple[str, ...] | None = told("nozzles")
    accuracy: str | None = told("accuracy")
    accuracy_relative: float | None = told("accuracy, of reading", unit="1", shown="%")
    accuracy_absolute: float | None = told("accuracy, fixed")
    distance: float | None = told("distance", unit="m")
    angle: float | None = told("angle", unit="rad", shown="°")
    height: float | None = told("height", unit="m")
    microphone_side: str | None = told("microphone side")
    holder: str | None = told("holder")
    room_from: float | None = told("room from", unit="Hz")
    nominal_power: float | None = told("nominal power", unit="W")
    radiator: str | None = told("radiator")
    fans: int | None = told("fans")
    coolant: str | None = told("coolant")
    coolant_flow: float | None = told("coolant flow", unit="m³/s", shown="l/min")
    pump_power: float | None = told("pump power", unit="W")
    tau: float | None = told("time constant", unit="s", shown="min")
    watch: str | None = told("watched files")

    @property
    def name(self) -> str:
        """The rig's name, with the date since which it stands so where one is told."""
        return self.rig if self.since in (None, ALWAYS) else f"{self.rig}@{self.since}"


@dataclass(frozen=True, kw_only=True)
class Instrument:
    """An instrument: what it measures and how finely. Numbers are in the SI unit of its quantity.

    Of a microphone or meter `self_noise` is the A-weighted level that it shows in silence, and `full_scale` the
    level [dB re 20 µPa] of a recording whose mean square is 1.0 (full scale squared): a stated sensitivity. Of a
    calibrator `calibrator_level` is the level that it gives.
    """

    kind: ClassVar[str] = "instrument"
    instrument: str = told("instrument", required=True)
    quantity: str = told("quantity", required=True)
    accuracy: str | None = told("accuracy")
    accuracy_relative: float | None = told("accuracy, of reading", unit="1", shown="%")
    accuracy_absolute: float | None = told("accuracy, fixed")
    resolution: float | None = told("resolution")
    span: float | None = told("span")
    noise: str | None = told("noise")
    noise_relative: float | None = told("noise, of reading", unit="1", shown="%")
    noise_absolute: float | None = told("noise, fixed")
    self_noise: float | None = told("self-noise", unit="dB", shown="dBA")
    full_scale: float | None = told("level at full scale", unit="dB")
    calibrator_level: float | None = told("calibrator level", unit="dB")
    serial: str | None = told("serial")

    @property
    def name(self) -> str:
        """The instrument's name."""
        return self.instrument


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """A calibration: the instrument reads `gain · true + offset`; u are standard uncertainties in SI.

    `linearity` lists {"from", "to", "u"}: what is left after gain and offset, by range of the reading.
    """

    kind: ClassVar[str] = "calibration"
    instrument: str = told("instrument", required=True)
    date: str = told("date", required=True)
    due: str | None = told("due")
    certificate: str | None = told("certificate")
    offset: float | None = told("offset")
    offset_u: float | None = told("u(offset)")
    gain: float | None = told("gain")
    gain_u: float | None = told("u(gain)")
    linearity: list[dict[str, Any]] | None = told("linearity")

    @property
    def name(self) -> str:
        """Instrument and date."""
        return f"{self.instrument}@{self.date}"


@dataclass(frozen=True, kw_only=True)
class Nozzle:
    """A nozzle of the chamber's bank."""

    kind: ClassVar[str] = "nozzle"
    nozzle: str = told("nozzle", required=True)
    bore: float = told("bore", unit="m", shown="mm", required=True)
    bore_u: float | None = told("u(bore)", unit="m", shown="mm")
    length_ratio: float | None = told("L/D")
    certificate: str | None = told("certificate")

    @property
    def name(self) -> str:
        """The nozzle's name."""
        return self.nozzle


OBSTACLE_KINDS = ("radiator", "filter", "grille", "tower heatsink", "case front")
"""The kinds of obstacle that are known by a word; others may be told in words of one's own."""


@dataclass(frozen=True, kw_only=True)
class Obstacle:
    """Something that the air goes through, in one version (state).

    `type` is one of `OBSTACLE_KINDS` or other words; `date` says since when the version stands; `side` on which
    side of the fan it stands: "push" where the fan blows into it, "pull" where it draws through it.
    """

    kind: ClassVar[str] = "obstacle"
    obstacle: str = told("obstacle", required=True)
    version: str | None = told("version")
    type: str | None = told("kind")
    date: str | None = told("date")
    side: str | None = told("side")
    tile_size: float | None = told("tile size", unit="m", shown="mm")
    description: str | None = told("description")

    @property
    def name(self) -> str:
        """The obstacle's name, with its version where one is told."""
        return f"{self.obstacle}@{self.version}" if self.version else self.obstacle
