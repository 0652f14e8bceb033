"""What changed since a release was frozen: records by the journal, settings and methods by what the release keeps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum


class Matter(Enum):
    """Of what a change is, in the order of its consequence."""

    METHOD = "method"
    NOZZLE = "nozzle"
    CALIBRATION = "calibration"
    INSTRUMENT = "instrument"
    RIG = "rig"
    OBSTACLE = "obstacle"
    DECISION = "decision"
    LAPSED = "decision that lapsed"
    EVENT = "event"
    SETTING = "setting"
    REGISTRATION = "registration"
    RUNS = "runs"
    SPREAD = "agreed spread"
    CLAIM = "claim"
    PRICE = "price"
    LEGACY = "legacy number"
    FAN_ADDED = "new fan"
    OTHER = "other"

    @property
    def corrects(self) -> bool:
        """Whether such a change may correct what was measured; else it is only told beside."""
        return self not in (Matter.PRICE, Matter.CLAIM, Matter.FAN_ADDED, Matter.LEGACY, Matter.OTHER)


ORDER = {each: at for at, each in enumerate(Matter)}


@dataclass(frozen=True)
class Change:
    """One thing that is not as it was when the release was frozen.

    Parameters
    ----------
    matter : of what kind it is. words : what was and what is: "bore of nozzle N40: 40.012 mm → 40.412 mm".
    entry : of the journal, 0 where it is of none (a setting, a method). date : of that entry, ISO 8601, or "".
    by : who wrote it. why : what the record itself says of the reason: a certificate, the reason of a decision.
    fan : whose it is, "" where it is of no single fan. subject : the name of the record that changed, "" for none.
    """

    matter: Matter
    words: str
    entry: int = 0
    date: str = ""
    by: str = ""
    why: str = ""
    fan: str = ""
    subject: str = ""

    @property
    def where(self) -> str:
        """Entry and date in brackets, or ""."""
        told = [f"entry {self.entry}"] if self.entry else []
        told += [self.date] if self.date else []
        return f" ({', '.join(told)})" if told else ""

    @property
    def line(self) -> str:
        """The change in one line: what, where it stands, and why."""
        return f"{self.words}{self.where}" + (f": {self.why}" if self.why else "")

    def as_dict(self) -> dict[str, str | int]:
        """The change as data."""
        return {"matter": self.matter.value, "words": self.words, "entry": self.entry, "date": self.date,
                "by": self.by, "why": self.why, "fan": self.fan, "subject": self.subject}  # fmt: skip


def in_order(changes: Iterable[Change]) -> tuple[Change, ...]:
    """Changes by consequence, then in the order of the journal."""
    return tuple(sorted(changes, key=lambda each: (ORDER[each.matter], each.entry, each.words)))


def settings_changed(old: Mapping[str, object], new: Mapping[str, object]) -> list[Change]:
    """Settings of lab.toml that differ, from both as nested mappings of plain values."""
    before, after = _flat(old), _flat(new)
    return [
        Change(Matter.SETTING, f"setting {name}: {_told(before.get(name))} → {_told(after.get(name))}")
        for name in sorted(before.keys() | after.keys())
        if before.get(name) != after.get(name)
    ]


def versions_changed(old: Mapping[str, object], new: Mapping[str, object]) -> list[Change]:
    """Methods whose version differs, {method: version}."""
    return [
        Change(Matter.METHOD, f"version of {name}: {_told(old.get(name))} → {_told(new.get(name))}")
        for name in sorted(old.keys() | new.keys())
        if old.get(name) != new.get(name)
    ]


def _flat(told: Mapping[str, object], before: str = "") -> dict[str, object]:
    found: dict[str, object] = {}
    for name, value in told.items():
        if isinstance(value, Mapping):
            found |= _flat(value, f"{before}{name}.")
        else:
            found[before + name] = list(value) if isinstance(value, tuple) else value
    return found


def _told(value: object) -> str:
    if value is None or value == "":
        return "not told"
    if isinstance(value, list):
        return ", ".join(map(_told, value)) or "none"
    return f"{value:.10g}" if isinstance(value, float) else str(value)
