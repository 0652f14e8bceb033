"""Rigs, instruments and nozzles from a TOML file, in SI, with the place of each for messages.

    [rig.chamber]                          # or [[rig.chamber]] for several, each with its own since
    kind = "airflow"
    # since = 2026-09-01                   # from which day it stands so; earlier runs keep what stood before
    arrangement = "outlet chamber"
    nozzles = ["N12", "N25"]
    nozzle_pressure = "dp-2"               # one key a role, here or in a table [rig.chamber.roles];
    # or, where the instruments aren't known:
    # accuracy = "± 3 % of reading"

    [instrument.dp-2]
    quantity = "nozzle_pressure"
    accuracy = "± 0.25 % of reading ± 0.1 Pa"
    resolution = "0.01 Pa"
    noise = "0.05 Pa"

    [instrument.dp-2.calibration]          # or [[…]] for several, the older ones kept
    date = 2026-03-01
    due = 2027-03-01
    certificate = "C-17"
    offset = "0.2 Pa"
    offset_u = "0.1 Pa"
    gain = 1.002
    gain_u = 0.001
    linearity = [{ from = "0 Pa", to = "100 Pa", u = "0.1 Pa" }]

    [rig.quiet]
    kind = "sound"
    sound_pressure = "mic-1"               # the microphone
    calibrator_level = "cal-1"             # the calibrator that is put on it
    distance = "0.5 m"                     # from the middle of the hub; a run may tell its own
    angle = "0 °"                          # from the fan's axis
    height = "1.2 m"
    microphone_side = "inlet"
    holder = "soft bands"
    room_from = "125 Hz"                   # the lowest frequency at which the room is qualified

    [instrument.mic-1]
    quantity = "sound_pressure"
    self_noise = "16 dBA"
    # full_scale = "120.3 dB"              # a stated sensitivity, where no calibrator was recorded

    [instrument.cal-1]
    quantity = "calibrator_level"
    calibrator_level = "94 dB"
    accuracy = "± 0.3 dB"

    [rig.heat-1]
    kind = "heat"
    heater_voltage = "volts-1"
    heater_current = "amps-1"
    hot_temperature = "tc-hot"
    air_in_temperature = "tc-1"            # further probes: air_in_temperature_2 to air_in_temperature_8
    nominal_power = "300 W"
    radiator = "rad27"                     # the name of an obstacle
    fans = 2                               # how many blow on it
    coolant = "glycol 30 %"                # or "water"
    coolant_flow = "1.5 l/min"             # to which the loop is set
    pump_power = "6 W"                     # the heat that the pump adds
    # tau = "6 min"                        # the time constant, where it is known
    # watch = "loggers/heat-1/*.csv"       # the files that its loggers write

    [nozzle.N25]
    bore = "25.004 mm"
    bore_u = "0.005 mm"
    length_ratio = 0.6
    certificate = "C-18"

A number that has a dimension is a text with number and unit; uncertainties (…_u, u) are standard ones.
Where an instrument of a rig is exchanged, both states stand in the file, as [[rig.chamber]] twice: the later one with
the day of the exchange in since. Runs are reduced by what stood on their day. One [rig.chamber] that names another
instrument than before, without since, is refused once there are runs; since = "always" says that the record is only
put right, for all runs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from stillroom.errors import BadInput, Contradiction, UnreadableFile
from stillroom.readers.registers.accuracy import parse_accuracy
from stillroom.readers.registers.values import (
    Table,
    coolant,
    date,
    difference_of,
    gain,
    length_ratio,
    names,
    one_of,
    parse_measure,
    share,
    text,
    unknown_word,
    whole,
    width_of,
    within,
    wrong,
)
from stillroom.readers.source import Source
from stillroom.readers.toml import parse_toml
from stillroom.readers.words.headers import READ
from stillroom.records.bench import ALWAYS
from stillroom.vocabulary import BY_NAME

SIZE_LIMIT = 2**20
"""Largest file of rigs that is read [bytes]."""

NO_ROLES = frozenset(
    {"time", "density", "background_level", "fast_level", "c_level", "band_level", "frequency", "distance"}
)
ROLES = (*(each.name for each in READ if each.name not in NO_ROLES), "sound_pressure", "calibrator_level")
"""What an instrument can measure (or, a calibrator, give) on a rig."""

GEOMETRY = ("distance", "angle", "height", "microphone_side", "holder", "room_from")
"""Where the microphone of a rig for sound stands, what holds the fan, and from which frequency the room is
qualified; runs may tell their own."""

HEAT_KEYS = (*("nominal_power", "radiator", "fans", "coolant", "coolant_flow", "pump_power", "tau", "watch"),)
"""What a heat rig is: its heat load, its radiator and the fans on it, its liquid, and where its loggers write."""

RIG_KEYS = ("kind", "since", "arrangement", "nozzles", "accuracy", "roles", *GEOMETRY, *HEAT_KEYS, *ROLES)
OF_SOUND = ("self_noise", "full_scale", "calibrator_level")
"""What a microphone or meter shows in silence, the level of a recording whose mean square is full scale squared, and
what a calibrator gives."""

INSTRUMENT_KEYS = ("quantity", "accuracy", "calibration", "resolution", "span", "noise", "serial", *OF_SOUND)
SIDES = ("inlet", "outlet", "beside")
"""On which side of the fan the microphone stands."""

_GEOMETRY = {"distance": "length", "angle": "angle", "height": "length", "room_from": "frequency"}
BELIEVED: dict[str, tuple[float, float]] = {
    "distance": (0.02, 20.0), "angle": (-math.pi, math.pi), "height": (0.0, 20.0), "room_from": (10.0, 2000.0),
    "nominal_power": (1.0, 20_000.0), "coolant_flow": (1e-7, 1e-2), "pump_power": (0.0, 500.0), "tau": (5.0, 14_400.0),
    "self_noise": (-20.0, 60.0), "full_scale": (0.0, 250.0), "calibrator_level": (70.0, 130.0),
}  # fmt: skip
"""The lowest and highest value that is believed [SI]; common practice of measuring rooms and heat rigs for small
fans."""

_OF_LOOP = {"nominal_power": "power", "coolant_flow": "flow", "pump_power": "power", "tau": "time"}
MOST_FANS = 12
"""Most fans on one radiator."""

CALIBRATION_KEYS = ("date", "due", "certificate", "offset", "offset_u", "gain", "gain_u", "linearity")
LINEARITY_KEYS = ("from", "to", "u")
NOZZLE_KEYS = ("bore", "bore_u", "length_ratio", "certificate")


@dataclass(frozen=True)
class Entry:
    """One thing that the file describes.

    Parameters
    ----------
    kind : "rig", "instrument", "calibration" or "nozzle".
    name : its name; a calibration carries its instrument's.
    fields : its fields in SI under the names that the records use.
    place : where it stands, for messages ("rigs.toml, nozzle.N25").
    """

    kind: str
    name: str
    fields: dict[str, object]
    place: str


def read_rigs(source: Source) -> tuple[Entry, ...]:
    """The rigs, instruments, calibrations and nozzles that a TOML file describes.

    Raises
    ------
    UnreadableFile : the file isn't TOML, with the line.
    UnknownUnit : a unit is missing or unknown.
    BadInput : a key is unknown, a value missing, of the wrong type or impossible.
    Contradiction : a unit isn't one of the quantity, or a nozzle or date can't be as said.
    """
    document = _parse(source)
    top = Table(document, source.name)
    top.check_keys(tuple(_READERS))
    entries: list[Entry] = []
    for kind, read_one in _READERS.items():
        tables = document.get(kind, {})
        if not isinstance(tables, Mapping):
            raise wrong(f"{source.name}, {kind}", tables, f"tables such as [{kind}.NAME]")
        for name, values in tables.items():
            place = f"{source.name}, {kind}.{name}"
            if kind == "rig" and isinstance(values, list) and values and name.strip():
                entries += _rig_by_dates(name, values, place)
                continue
            if not isinstance(values, Mapping) or not name.strip():
                raise wrong(place, values, f"a table [{kind}.NAME]")
            entries += read_one(name, Table(values, place))
    if not entries:
        raise UnreadableFile(
            "file",
            place=source.name,
            found="nothing described",
            expected="tables such as [rig.NAME], [instrument.NAME], [nozzle.NAME]",
        )
    return tuple(entries)


def _parse(source: Source) -> dict[str, object]:
    small = Source(source.name, source.data, limit=min(source.limit, SIZE_LIMIT))
    written = small.text("utf-8-sig")
    return parse_toml(written.replace("\r\n", "\n"), "file", source.name)


def _rig_by_dates(name: str, listed: Sequence[object], place: str) -> Iterable[Entry]:
    """A rig as it stood from several dates on.

    Raises
    ------
    Contradiction : two of them stand since the same day.
    """
    dates: list[object] = []
    for number, values in enumerate(listed, 1):
        if not isinstance(values, Mapping):
            raise wrong(f"{place}[{number}]", values, f"a table [[rig.{name}]]")
        (entry,) = _rig(name, Table(values, f"{place}[{number}]"))
        date_told = entry.fields.get("since", ALWAYS)
        if date_told in dates:
            found = f"{date_told} twice" if date_told != ALWAYS else "no date twice"
            raise Contradiction("since", place=entry.place, found=found, expected="each date once")
        dates.append(date_told)
        yield entry


def _rig(name: str, table: Table) -> Iterable[Entry]:
    table.check_keys(RIG_KEYS)
    fields: dict[str, object] = {"rig": name}
    if "since" in table.values:
        told = table.values["since"]
        fields["since"] = ALWAYS if told == ALWAYS else date(told, table.at("since"))
    table.put(fields, "purpose", "kind", text)
    table.put(fields, "arrangement", "arrangement", text)
    table.put(fields, "nozzles", "nozzles", names)
    roles = _roles(table)
    if roles:
        fields["roles"] = roles
    if "accuracy" in table.values:
        place = table.at("accuracy")
        accuracy = parse_accuracy(text(table.values["accuracy"], place), place=place)
        if accuracy.fixed:
            expected = "a share of the reading for the whole rig, such as '± 3 % of reading'"
            raise BadInput("accuracy of a rig", place=place, found=repr(accuracy.text), expected=expected)
        fields |= {"accuracy": accuracy.text, "accuracy_relative": accuracy.relative}
    for key, dimension in _GEOMETRY.items():
        table.put(fields, key, key, within(dimension, *BELIEVED[key]))
    table.put(fields, "microphone_side", "microphone_side", one_of(SIDES))
    table.put(fields, "holder", "holder", text)
    for key, dimension in _OF_LOOP.items():
        table.put(fields, key, key, within(dimension, *BELIEVED[key]))
    table.put(fields, "radiator", "radiator", text)
    table.put(fields, "fans", "fans", whole(1, MOST_FANS))
    table.put(fields, "coolant", "coolant", coolant)
    table.put(fields, "watch", "watch", text)
    if not roles and "accuracy" not in fields and fields.get("purpose") not in {"sound", "heat", "control"}:
        raise BadInput(
            f"rig {name!r}",
            place=table.place,
            found="neither instruments nor an accuracy",
            expected="a role such as static_pressure = \"INSTRUMENT\", or accuracy = '± 3 % of reading'",
        )
    yield Entry("rig", name, fields, table.place)


def _roles(table: Table) -> dict[str, str]:
    """The instrument of each role: keys of the rig's own, or of its table `roles`."""
    inner = table.values.get("roles", {})
    if not isinstance(inner, Mapping):
        raise wrong(table.at("roles"), inner, "a table such as [rig.NAME.roles]")
    listed = Table(inner, table.at("roles"))
    listed.check_keys(ROLES)
    roles: dict[str, str] = {}
    for role in ROLES:
        here = [each for each in (table, listed) if role in each.values]
        if len(here) > 1:
            raise Contradiction("role", place=listed.at(role), found="twice", expected="each role once")
        if here:
            roles[role] = text(here[0].values[role], here[0].at(role))
    return roles


def _instrument(name: str, table: Table) -> Iterable[Entry]:
    table.check_keys(INSTRUMENT_KEYS)
    quantity = text(table.required("quantity"), table.at("quantity"))
    if quantity not in ROLES:
        raise unknown_word(quantity, "quantity", ROLES, table.at("quantity"))
    fields: dict[str, object] = {"instrument": name, "quantity": quantity}
    in_levels = "sound_level" if quantity == "sound_pressure" else quantity  # a microphone is told in dB
    for key, parts in (
        ("accuracy", ("accuracy_relative", "accuracy_absolute")),
        ("noise", ("noise_relative", "noise_absolute")),
    ):
        if key in table.values:
            place = table.at(key)
            stated = parse_accuracy(text(table.values[key], place), quantity=in_levels, place=place)
            fields |= {key: stated.text, parts[0]: stated.relative, parts[1]: stated.fixed}
    for key in OF_SOUND:
        table.put(fields, key, key, within("level", *BELIEVED[key]))
    dimension = BY_NAME[quantity].dimension
    table.put(fields, "resolution", "resolution", width_of(dimension))
    table.put(fields, "span", "span", width_of(dimension))
    table.put(fields, "serial", "serial", text)
    yield Entry("instrument", name, fields, table.place)
    listed = table.values.get("calibration", [])
    for number, each in enumerate(listed if isinstance(listed, list) else [listed], 1):
        place = table.at("calibration") + (f"[{number}]" if isinstance(listed, list) else "")
        if not isinstance(each, Mapping):
            raise wrong(place, each, "a table such as { date = 2026-03-01, offset = '0.2 Pa' }")
        yield _calibration(name, dimension, Table(each, place))


def _calibration(instrument: str, dimension: str, table: Table) -> Entry:
    table.check_keys(CALIBRATION_KEYS)
    fields: dict[str, object] = {"instrument": instrument}
    fields["date"] = done = date(table.required("date"), table.at("date"))
    table.put(fields, "due", "due", date)
    if str(fields.get("due", done)) < done:
        expected = f"a date after the calibration's, {done}"
        raise Contradiction("due date", place=table.at("due"), found=str(fields["due"]), expected=expected)
    table.put(fields, "certificate", "certificate", text)
    table.put(fields, "offset", "offset", difference_of(dimension))
    table.put(fields, "offset_u", "offset_u", width_of(dimension))
    table.put(fields, "gain", "gain", gain)
    table.put(fields, "gain_u", "gain_u", share)
    if "linearity" in table.values:
        fields["linearity"] = _linearity(table.values["linearity"], dimension, table.at("linearity"))
    return Entry("calibration", instrument, fields, table.place)


def _linearity(listed: object, dimension: str, place: str) -> list[dict[str, float]]:
    if not isinstance(listed, list):
        raise wrong(place, listed, "a list such as [{ from = '0 Pa', to = '100 Pa', u = '0.1 Pa' }]")
    ranges = []
    for number, each in enumerate(listed, 1):
        if not isinstance(each, Mapping):
            raise wrong(f"{place}[{number}]", each, "a table with from, to and u")
        table = Table(each, f"{place}[{number}]")
        table.check_keys(LINEARITY_KEYS)
        low, high = (parse_measure(table.required(k), dimension, table.at(k)) for k in ("from", "to"))
        if not low < high:
            raise Contradiction(
                "range", place=table.place, found=f"{each['from']} to {each['to']}", expected="from < to"
            )
        width = width_of(dimension)(table.required("u"), table.at("u"))
        ranges.append({"from": low, "to": high, "u": width})
    return ranges


def _nozzle(name: str, table: Table) -> Iterable[Entry]:
    table.check_keys(NOZZLE_KEYS)
    fields: dict[str, object] = {"nozzle": name}
    bore = parse_measure(table.required("bore"), "length", table.at("bore"))
    if not 0.5e-3 <= bore <= 2.0:
        raise wrong(table.at("bore"), table.values["bore"], "0.5 mm to 2 m")
    fields["bore"] = bore
    table.put(fields, "bore_u", "bore_u", width_of("length"))
    table.put(fields, "length_ratio", "length_ratio", length_ratio)
    table.put(fields, "certificate", "certificate", text)
    yield Entry("nozzle", name, fields, table.place)


_READERS: dict[str, Callable[[str, Table], Iterable[Entry]]] = {
    "rig": _rig,
    "instrument": _instrument,
    "nozzle": _nozzle,
}
