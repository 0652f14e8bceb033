"""From the readings of one sweep to physical points, as recorded and moved by each source of error.

Rows: row 0 as recorded; rows 1 … k moved by +1 standard deviation of each shared source; the last rows moved
by each own source, all points at once (an own error belongs to one point, so its effect stands at that
point).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.standards import moist_air_cipm_2007 as cipm
from stillroom.core.standards.ansi_amca_210_2007 import air as amca
from stillroom.core.standards.ansi_amca_210_2007.bank import flow_at_density, nozzle_bank_flow
from stillroom.core.standards.ansi_amca_210_2007.nozzles import LengthRatio
from stillroom.core.standards.limits import Flag, has
from stillroom.methods.airflow.bench import ASSUMED_AIR, BORE_U, OUTLET_CHAMBER, Bench
from stillroom.records.bench import Nozzle

FORMULA = "formula/nozzle coefficient"
AIR = ("barometric_pressure", "temperature", "relative_humidity")


@dataclass(frozen=True)
class Sweep:
    """The readings of one run, as the reader gives them: SI, one value a point.

    Parameters
    ----------
    run : identity of the run. columns : {quantity: (n,)} [SI]. nozzles : open nozzles of each point.
    supply : the voltage that was set [V], None where the setting is not one. It makes power of amps without volts.
    """

    run: str
    columns: Mapping[str, Array]
    nozzles: tuple[tuple[str, ...], ...] = ()
    supply: float | None = None

    @property
    def points(self) -> int:
        """Number of points."""
        return len(next(iter(self.columns.values())))


@dataclass(frozen=True)
class Points:
    """Physical points of a sweep, with the effects of all sources.

    Parameters
    ----------
    run : identity of the run.
    rows : {quantity: (1 + k + o, n)}: flow at the fan's inlet [m³/s], pressure [Pa], density there [kg/m³],
        viscosity [Pa s], and speed [1/s], power [W] where they were read.
    sources : identities of the k shared sources. own : names of the o own sources.
    marks : what nobody told, or what leaves a standard's range, in words.
    low_reynolds : points at which a nozzle was used below its range, (n,).
    nozzles : open nozzles of each point; empty where the rig has none.
    """

    run: str
    rows: Mapping[str, Array]
    sources: tuple[str, ...]
    own: tuple[str, ...]
    marks: tuple[str, ...]
    low_reynolds: NDArray[np.bool_]
    nozzles: tuple[tuple[str, ...], ...] = ()

    def shared(self, quantity: str) -> Array:
        """Effect of +1 standard deviation of each shared source, (k, n)."""
        rows = self.rows[quantity]
        return np.asarray(rows[1 : 1 + len(self.sources)] - rows[0])

    def own_effects(self, quantity: str) -> Array:
        """Effect of +1 standard deviation of each own source, (o, n)."""
        rows = self.rows[quantity]
        return np.asarray(rows[1 + len(self.sources) :] - rows[0])


@dataclass(frozen=True)
class _Move:
    """One row: what moves, and by how much. `quantity` is a column, a nozzle's bore, or the formula."""

    name: str
    quantity: str
    by: Array | float


def reduce_sweep(sweep: Sweep, bench: Bench) -> Points:
    """Reduce one sweep of readings to physical points.

    Parameters
    ----------
    sweep : the readings. bench : the rig as the run used it.

    Returns
    -------
    Points, for nozzle readings by ANSI/AMCA 210-07 (outlet chamber with a nozzle bank), for flow-and-pressure
    exports with the flow as it was exported and the bench's stated accuracy.

    Raises
    ------
    UnknownThing : an open nozzle that is not in the bank.
    OutOfRange : a reading that can't exist.
    """
    marks: list[str] = []
    read = _with_assumed(sweep, marks)
    pressure = "resistance_pressure" if "resistance_pressure" in read else "static_pressure"
    used = [each for each in (*AIR, "nozzle_pressure", "flow", pressure, "speed") if each in read]
    used += [each for each in ("voltage", "current", "power") if each in read]
    shared, own = _moves(sweep, bench, read, used, marks)
    state = _State(bench, read, shared + own, sweep)
    rows = state.physical(pressure)
    low = state.low_reynolds
    if low.any():
        marks.append("nozzle below its Reynolds range")
    return Points(
        sweep.run,
        rows,
        tuple(each.name for each in shared),
        tuple(each.name for each in own),
        tuple(dict.fromkeys(marks)),
        low,
        sweep.nozzles,
    )


VOLTAGE_AS_SET = "voltage as set"
"""The mark of a power that was had from amps and the voltage told as the setting."""

BEYOND = "read beyond its calibration"
"""The mark of an instrument whose readings pass the ranges of its calibration; their uncertainty grows with them."""


def _with_assumed(sweep: Sweep, marks: list[str]) -> dict[str, Array]:
    """The columns, corrected by their calibrations, with assumed air where none was recorded and the set voltage
    beside amps without volts.
    """
    read = {name: np.asarray(each, dtype=np.float64) for name, each in sweep.columns.items()}
    for name, assumed in ASSUMED_AIR.items():
        if name not in read and not (name == "relative_humidity" and "wet_bulb_temperature" in read):
            read[name] = np.full(sweep.points, assumed)
            marks.append("air not recorded")
    if sweep.supply is not None and "current" in read and read.keys().isdisjoint({"voltage", "power"}):
        read["voltage"] = np.full(sweep.points, sweep.supply)
        marks.append(VOLTAGE_AS_SET)
    return read


def _moves(
    sweep: Sweep, bench: Bench, read: Mapping[str, Array], used: Sequence[str], marks: list[str]
) -> tuple[list[_Move], list[_Move]]:
    shared: list[_Move] = []
    own: list[_Move] = []
    for name in used:
        chain = bench.chain(name, recorded=name in sweep.columns)
        if not chain.known and name not in AIR:
            marks.append("bench accuracy not told: ± 5 % assumed")
        if name in sweep.columns and (sweep.columns[name] > chain.reach[1]).any():
            marks.append(f"{chain.instrument} {BEYOND}")
        shared += [_Move(f"{source}/{name}" if not chain.known else source, name, by)
                   for source, by in chain.shared(read[name])]  # fmt: skip
        noise = chain.own(read[name])
        if noise.any():
            own.append(_Move(f"own/{name}", name, noise))
    if "nozzle_pressure" in read:
        for nozzle in _opened(sweep, bench):
            by = nozzle.bore_u if nozzle.bore_u is not None else BORE_U
            shared.append(_Move(f"nozzle/{nozzle.nozzle}/bore", f"bore {nozzle.nozzle}", by))
        shared.append(_Move(FORMULA, FORMULA, 1.0))
    return shared, own


def _opened(sweep: Sweep, bench: Bench) -> list[Nozzle]:
    names = dict.fromkeys(name for each in sweep.nozzles for name in each)
    return [bench.nozzle(name, sweep.run) for name in names]


class _State:
    """All rows of a sweep at once: the inputs stacked, and what follows from them."""

    def __init__(self, bench: Bench, read: Mapping[str, Array], moves: Sequence[_Move], sweep: Sweep) -> None:
        self.bench, self.sweep, self.moves = bench, sweep, moves
        self.read = read
        self.low_reynolds = np.zeros(sweep.points, dtype=np.bool_)

    def rows_of(self, name: str) -> Array:
        """The true values of a column in every row."""
        chain = self.bench.chain(name, recorded=name in self.sweep.columns)
        true = chain.true(self.read[name])
        rows = np.repeat(true[None, :], 1 + len(self.moves), axis=0)
        for i, move in enumerate(self.moves, start=1):
            if move.quantity == name:
                rows[i] += move.by
        return rows

    def physical(self, pressure: str) -> dict[str, Array]:
        """The physical quantities in every row."""
        barometer, temperature = self.rows_of("barometric_pressure"), self.rows_of("temperature")
        density = self._density(barometer, temperature)
        viscosity = amca.viscosity(temperature)
        static = self.rows_of(pressure)
        if "nozzle_pressure" in self.read:
            flow = self._nozzle_flow(barometer, temperature, density, viscosity, static)
        else:
            flow = self.rows_of("flow")
        rows = {"flow": flow, "pressure": static, "density": density, "viscosity": viscosity}
        if "speed" in self.read:
            rows["speed"] = self.rows_of("speed")
        if "power" in self.read:
            rows["power"] = self.rows_of("power")
        elif "voltage" in self.read and "current" in self.read:
            rows["power"] = self.rows_of("voltage") * self.rows_of("current")
        return rows

    def _density(self, barometer: Array, temperature: Array) -> Array:
        if "wet_bulb_temperature" in self.read and "relative_humidity" not in self.read:
            return amca.ambient_density(temperature, self.rows_of("wet_bulb_temperature"), barometer)
        humidity = np.clip(self.rows_of("relative_humidity"), 0.0, 1.0)
        return cipm.density(temperature, barometer, humidity)

    def _nozzle_flow(
        self, barometer: Array, temperature: Array, density: Array, viscosity: Array, static: Array
    ) -> Array:
        nozzles = _opened(self.sweep, self.bench)
        if not nozzles:
            return np.zeros_like(density)
        opened = np.array([[each.nozzle in names for names in self.sweep.nozzles] for each in nozzles])
        bore = np.array([np.full((len(density), 1), each.bore) for each in nozzles])
        shift = np.zeros((len(density), 1))
        index = {f"bore {each.nozzle}": i for i, each in enumerate(nozzles)}
        for i, move in enumerate(self.moves, start=1):
            if move.quantity in index:
                bore[index[move.quantity], i] += move.by
            elif move.quantity == FORMULA:
                shift[i] = move.by
        chamber = static if self.bench.arrangement == OUTLET_CHAMBER else np.zeros_like(static)
        upstream = amca.plane_density(density, barometer, temperature, chamber, temperature)
        bank = nozzle_bank_flow(
            np.where(opened.any(axis=0), self.rows_of("nozzle_pressure"), 0.0),
            barometer + chamber,
            upstream,
            viscosity,
            bore,
            opened[:, None, :],
            [_length_ratio(each) for each in nozzles],
            coefficient_shift=shift,
            signed=True,
        )
        self.low_reynolds = np.asarray(has(bank.flags[:, 0], Flag.REYNOLDS_LOW).any(axis=0))
        return flow_at_density(bank.flow, upstream, density)


def _length_ratio(nozzle: Nozzle) -> LengthRatio:
    return LengthRatio.L_0_5 if nozzle.length_ratio == 0.5 else LengthRatio.L_0_6
