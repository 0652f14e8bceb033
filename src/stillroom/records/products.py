"""Fans as products, the units that were bought, and what the box and the shop say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from stillroom.records.fields import told


@dataclass(frozen=True, kw_only=True)
class Fan:
    """A product."""

    kind: ClassVar[str] = "fan"
    fan: str = told("fan", required=True)
    maker: str | None = told("maker")
    model: str | None = told("model")
    size: float | None = told("size", unit="m", shown="mm")
    thickness: float | None = told("thickness", unit="m", shown="mm")
    blades: int | None = told("blades")
    wires: int | None = told("wires")
    pulses: int | None = told("pulses per revolution")
    full_speed: float | None = told("full speed", unit="1/s", shown="rpm")

    @property
    def name(self) -> str:
        """The fan's short name."""
        return self.fan


@dataclass(frozen=True, kw_only=True)
class Sample:
    """One physical unit of a fan."""

    kind: ClassVar[str] = "sample"
    fan: str = told("fan", required=True)
    sample: str = told("sample", required=True)
    bought: str | None = told("bought")
    shop: str | None = told("shop")
    lot: str | None = told("lot")
    condition: str | None = told("condition")
    hours: float | None = told("hours", unit="s", shown="h")
    registered: bool | None = told("registered")

    @property
    def name(self) -> str:
        """Fan and sample."""
        return f"{self.fan}/{self.sample}"


@dataclass(frozen=True, kw_only=True)
class Claim:
    """What the box says, as printed; without its condition it can't be checked."""

    kind: ClassVar[str] = "claim"
    fan: str = told("fan", required=True)
    quantity: str = told("quantity", required=True)
    value: float = told("value", required=True)
    unit: str = told("unit", required=True)
    condition: str | None = told("condition")
    tolerance: float | None = told("tolerance", unit="1", shown="%")

    @property
    def name(self) -> str:
        """Fan and quantity, with the condition where one is told: a box may print one quantity under several."""
        condition = " ".join((self.condition or "").split())
        return "/".join(each for each in (f"{self.fan}/{self.quantity}", condition) if each)


def completed(claims: Mapping[str, Claim]) -> dict[str, Claim]:
    """The claims without those that were written down again with the condition that they lacked."""
    known = {(each.fan, each.quantity) for each in claims.values() if each.condition}
    return {
        name: each
        for name, each in claims.items()
        if each.condition or (each.fan, each.quantity) not in known
    }


@dataclass(frozen=True, kw_only=True)
class Price:
    """What a shop asks on a date."""

    kind: ClassVar[str] = "price"
    fan: str = told("fan", required=True)
    price: float = told("price", required=True)
    currency: str | None = told("currency")
    date: str | None = told("date")
    region: str | None = told("region")
    shop: str | None = told("shop")

    @property
    def name(self) -> str:
        """Fan, shop and date."""
        return f"{self.fan}/{self.shop or ''}/{self.date or ''}"


@dataclass(frozen=True, kw_only=True)
class Legacy:
    """A finished value from before, without raw data: kept, and marked wherever it is shown.

    Without speed, duty and volts it holds at full setting. Without both ends of its 95 % interval nothing is
    said of it against other fans.
    """

    kind: ClassVar[str] = "legacy"
    fan: str = told("fan", required=True)
    measure: str = told("measure", required=True)
    value: float = told("value", required=True)
    unit: str = told("unit", required=True)
    low: float | None = told("low")
    high: float | None = told("high")
    obstacle: str | None = told("obstacle")
    speed: float | None = told("speed", unit="1/s", shown="rpm")
    duty: float | None = told("duty", unit="1", shown="%")
    volts: float | None = told("volts", unit="V")
    date: str | None = told("date")
    method: str | None = told("method")
    source: str | None = told("source")

    @property
    def name(self) -> str:
        """Fan, measure and date, with the condition where one is told."""
        plain = f"{self.fan}/{self.measure}/{self.date or ''}"
        return "/".join([plain, *(words for words in (self.obstacle, self.setting) if words)])

    @property
    def setting(self) -> str:
        """The setting in words, "" for full setting."""
        settings = ((self.speed, 60.0, " rpm"), (self.duty, 100.0, " %"), (self.volts, 1.0, " V"))
        said = (f"{value * factor:g}{unit}" for value, factor, unit in settings if value is not None)
        return next(said, "")
