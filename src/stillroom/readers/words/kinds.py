"""Which kind of measurement a file holds, by the quantities that are in it."""

from __future__ import annotations

from collections.abc import Collection
from enum import Enum

from stillroom.errors import BadInput
from stillroom.readers.words.headers import NOZZLES, STARTED
from stillroom.vocabulary import AIR_PROBES, BY_NAME, air_probe


class Kind(Enum):
    """The kinds of measurement file."""

    NOZZLE_READINGS = "raw nozzle readings"
    FLOW_AND_PRESSURE = "flow and pressure"
    OBSTACLE = "pressure drop of an obstacle"
    SOUND_RECORDING = "sound recording"
    SOUND_SHEET = "sheet of sound levels"
    LEVEL_SERIES = "series of sound levels"
    BAND_LEVELS = "one-third-octave levels"
    NARROW_BAND = "narrow-band spectrum"
    HEAT_LOG = "heat log"
    CONTROL_STEPS = "control steps"
    START_TESTS = "start tests"
    INRUSH = "record of a start's current"

    @property
    def is_sound(self) -> bool:
        """Whether it is a measurement of sound."""
        return self in _SOUND

    @property
    def is_heat(self) -> bool:
        """Whether it is a log of the heat rig: its own channels, or those of the drive or the room beside it."""
        return self is Kind.HEAT_LOG

    @property
    def is_control(self) -> bool:
        """Whether it tells how a fan answers its control: speed against duty or volts, or tries to start."""
        return self in _CONTROL

    @property
    def is_airflow(self) -> bool:
        """Whether it is a measurement of the chamber: of a fan, or of an obstacle."""
        return not (self.is_sound or self.is_heat or self.is_control)


_SOUND = frozenset(
    {Kind.SOUND_RECORDING, Kind.SOUND_SHEET, Kind.LEVEL_SERIES, Kind.BAND_LEVELS, Kind.NARROW_BAND}
)
_CONTROL = frozenset({Kind.CONTROL_STEPS, Kind.START_TESTS, Kind.INRUSH})


SOUND_QUANTITIES = frozenset(
    {"sound_level", "background_level", "fast_level", "c_level", "band_level", "frequency", "distance"}
)
"""Columns that only a measurement of sound holds; in any other they are left out."""

HEAT_QUANTITIES = (
    "hot_temperature",
    *("heater_power", "heater_voltage", "heater_current"),
    *("liquid_in_temperature", "liquid_out_temperature", "liquid_flow"),
    *(air_probe(number) for number in range(1, AIR_PROBES + 1)),
    "air_out_temperature",
)
"""Columns that only a heat rig logs; in a measurement of airflow or sound they are left out."""

BESIDE_HEAT = (
    "temperature",
    "speed",
    "duty",
    "voltage",
    "current",
    "relative_humidity",
    "barometric_pressure",
)
"""Channels of the drive and of the room, which a logger beside the heat rig may hold alone."""

HOT = "hot_temperature"

CONTROL_QUANTITIES = frozenset({"rest_time", "reached_speed", "peak_current"})
"""Columns that only tests of the control hold; in any other they are left out."""

_CONTROL_COLUMNS: tuple[tuple[Kind, tuple[str, ...]], ...] = (
    (Kind.START_TESTS, ("duty", STARTED)),
    (Kind.START_TESTS, ("voltage", STARTED)),
    (Kind.CONTROL_STEPS, ("duty", "speed")),
    (Kind.CONTROL_STEPS, ("voltage", "speed")),
)

REQUIRED: tuple[tuple[Kind, tuple[str, ...]], ...] = (
    (Kind.NOZZLE_READINGS, ("nozzle_pressure", NOZZLES, "static_pressure")),
    (Kind.FLOW_AND_PRESSURE, ("flow", "static_pressure")),
    (Kind.OBSTACLE, ("nozzle_pressure", NOZZLES, "resistance_pressure")),
    (Kind.OBSTACLE, ("flow", "resistance_pressure")),
    (Kind.BAND_LEVELS, ("frequency", "band_level")),
    (Kind.SOUND_SHEET, ("fan", "sound_level")),
    (Kind.SOUND_SHEET, ("background_level", "sound_level")),
    (Kind.SOUND_SHEET, ("distance", "sound_level")),
    *((Kind.HEAT_LOG, ("time", name)) for name in HEAT_QUANTITIES),
    (Kind.LEVEL_SERIES, ("time", "fast_level")),
    (Kind.LEVEL_SERIES, ("time", "sound_level")),
    (Kind.SOUND_SHEET, ("speed", "sound_level")),
    (Kind.SOUND_SHEET, ("duty", "sound_level")),
    (Kind.SOUND_SHEET, ("voltage", "sound_level")),
    (Kind.SOUND_SHEET, ("set_speed", "sound_level")),
    *_CONTROL_COLUMNS,
    *((Kind.HEAT_LOG, ("time", name)) for name in BESIDE_HEAT),
)
"""The columns that each kind can't do without; the first kind that is complete is the file's. Whether levels of
frequencies are those of bands or of a spectrum, whether times are those of a series, and whether settings in time are
the steps of a control test, the drive of a heat run or a start's current, the readings tell.
"""


NO_KIND = "columns"
"""What is wrong where the columns make up no kind of measurement."""


def may_be_airflow(names: Collection[str]) -> bool:
    """Whether these columns make up a measurement of airflow, whatever else stands beside them."""
    return any(all(name in names for name in required) for kind, required in REQUIRED if kind.is_airflow)


def may_be_control(names: Collection[str]) -> bool:
    """Whether these columns make up a test of the control, and nothing that comes before it.

    A log of a heat run's drive has such columns too: the readings tell.
    """
    first = next((kind for kind, required in REQUIRED if all(name in names for name in required)), None)
    return first is not None and first.is_control


def sheet_without_time(columns: Collection[str]) -> bool:
    """Whether these columns, times apart, are those of a sheet of levels."""
    return any(
        all(name in columns for name in required) for kind, required in REQUIRED if kind is Kind.SOUND_SHEET
    )


def kind_of(columns: Collection[str], place: str) -> Kind:
    """The kind of measurement that has these columns.

    Parameters
    ----------
    columns : names of quantities and text columns.
    place : the file, for messages.

    Raises
    ------
    BadInput : no kind is complete; says for each kind which columns are missing.
    """
    kind = next((kind for kind, required in REQUIRED if all(name in columns for name in required)), None)
    if kind is not None and not (kind.is_control and HOT in columns):  # a heat run without its times
        return kind
    known = [_label(name) for name in columns]
    raise BadInput(
        NO_KIND,
        place=place,
        found=", ".join(known) if known else "no known column",
        expected="; or ".join(
            f"for {kind.value} also {_missing(required, columns)}" for kind, required in _near(columns)
        )
        + " (a column can be named by --as 'column:HEADER=QUANTITY')",
    )


def _near(columns: Collection[str]) -> tuple[tuple[Kind, tuple[str, ...]], ...]:
    """The kinds to which a file is nearest: those of sound where it has a column that only sound has."""
    is_sound = any(name in SOUND_QUANTITIES for name in columns)
    of_heat = "time" in columns or HOT in columns
    if of_heat and not is_sound and not any(name in _OF_CHAMBER for name in columns):
        return ((Kind.HEAT_LOG, ("time", HOT)),)
    if not is_sound:
        return tuple((kind, required) for kind, required in REQUIRED if kind.is_airflow)
    return tuple({kind: (kind, required) for kind, required in reversed(REQUIRED) if kind.is_sound}.values())[
        ::-1
    ]


_OF_CHAMBER = frozenset(name for kind, required in REQUIRED if kind.is_airflow for name in required)


def _missing(required: tuple[str, ...], columns: Collection[str]) -> str:
    return " and ".join(_label(name) for name in required if name not in columns)


def _label(name: str) -> str:
    return f"{BY_NAME[name].label} ({name})" if name in BY_NAME else name
