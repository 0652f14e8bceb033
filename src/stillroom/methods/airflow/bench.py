"""The bench of one airflow run: the chains of its quantities, its nozzles, and what nobody told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stillroom.errors import BadInput, UnknownThing
from stillroom.methods.airflow.chain import UNTOLD_NOISE, Chain
from stillroom.records.bench import Nozzle, Rig

OUTLET_CHAMBER = "outlet chamber"
FLOW_AND_PRESSURE = "flow and pressure only"
ARRANGEMENTS = (OUTLET_CHAMBER, FLOW_AND_PRESSURE)

UNTOLD_ACCURACY = 0.05
"""Limits of error taken for a bench whose accuracy nobody told, of reading [1] (our choice)."""

UNRECORDED: dict[str, Chain] = {
    "barometric_pressure": Chain("unrecorded air", offset_u=2500.0, known=False),
    "temperature": Chain("unrecorded air", offset_u=3.0, known=False),
    "relative_humidity": Chain("unrecorded air", offset_u=0.15, known=False),
}
"""What stands in for air that wasn't recorded: a room near sea level [Pa, K, 1] (our choice)."""

AS_SET = Chain("supply voltage as set", relative=0.02)
"""What stands in for a voltage that was set and not read: within ± 2 %, display and leads together (our choice)."""

ASSUMED_AIR: dict[str, float] = {
    "barometric_pressure": 101_325.0,
    "temperature": 293.15,
    "relative_humidity": 0.5,
}
"""The air that is assumed where none was recorded: ISO 2533 sea level, 20 °C, 50 %."""

BORE_U = 2.0e-5
"""Standard uncertainty of a bore without one [m] (our choice)."""


@dataclass(frozen=True)
class Bench:
    """A rig as one run uses it.

    Parameters
    ----------
    rig : its name. arrangement : one of `ARRANGEMENTS`.
    chains : {quantity: chain} of what the rig's instruments are; others get a stand-in.
    nozzles : {name: nozzle} of the bank.
    accuracy : limits of error of reading for quantities without an instrument [1]; None where not told.
    """

    rig: str
    arrangement: str
    chains: Mapping[str, Chain]
    nozzles: Mapping[str, Nozzle]
    accuracy: float | None = None
    accuracy_absolute: float | None = None

    @classmethod
    def of(
        cls,
        rig: Rig,
        chains: Mapping[str, Chain],
        nozzles: Mapping[str, Nozzle],
        accuracy: tuple[float, float] | None,
    ) -> Bench:
        """The bench of a rig's record.

        Raises
        ------
        BadInput : an arrangement that the airflow method doesn't know.
        UnknownThing : a nozzle of the rig that has no record.
        """
        arrangement = rig.arrangement or (OUTLET_CHAMBER if rig.nozzles else FLOW_AND_PRESSURE)
        if arrangement not in ARRANGEMENTS:
            raise BadInput(
                f"arrangement of rig {rig.rig}", found=repr(arrangement), expected=" or ".join(ARRANGEMENTS)
            )
        missing = [each for each in rig.nozzles or () if each not in nozzles]
        if missing:
            raise UnknownThing(f"nozzle {missing[0]} of rig {rig.rig}", expected="a [nozzle] table for it")
        bank = {each: nozzles[each] for each in rig.nozzles or ()}
        relative, absolute = accuracy or (None, None)
        return cls(rig.rig, arrangement, chains, bank, relative, absolute)

    def chain(self, quantity: str, *, recorded: bool) -> Chain:
        """The chain of a quantity; a stand-in where no instrument is named for it."""
        if not recorded and quantity == "voltage":
            return AS_SET
        if not recorded and quantity in UNRECORDED:
            return UNRECORDED[quantity]
        found = self.chains.get(quantity)
        if found is not None:
            return found
        if quantity in UNRECORDED:
            return UNRECORDED[quantity]
        told = self.accuracy is not None
        return Chain(
            f"{self.rig}/{quantity}",
            relative=UNTOLD_ACCURACY if self.accuracy is None else self.accuracy,
            absolute=self.accuracy_absolute or 0.0,
            noise_relative=UNTOLD_NOISE,
            known=told,
        )

    def nozzle(self, name: str, place: str) -> Nozzle:
        """A nozzle of the bank.

        Raises
        ------
        UnknownThing : it isn't in the bank.
        """
        if name not in self.nozzles:
            raise UnknownThing(
                f"nozzle {name}",
                place=place,
                found=f"no nozzle of that name on rig {self.rig}",
                expected=", ".join(self.nozzles) or "a rig with a nozzle bank",
            )
        return self.nozzles[name]
