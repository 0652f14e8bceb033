"""What every printed sheet says before anybody touches a rig; docs/cautions.md holds the same words.

Usual cautions of the trade (common practice); where a rule is named, the local one governs.
"""

from __future__ import annotations

from dataclasses import dataclass

HEADER = (
    "This sheet doesn’t replace local electrical, fire and workplace rules. Mains wiring, fixed heaters and pressure"
    " equipment are for licensed or qualified people under the local code. If unsure, stop."
)


@dataclass(frozen=True)
class Caution:
    """One caution: what it is about, and what to do."""

    about: str
    words: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "Mains heat load (about 300 W)",
        "enclosed, earthed, fused for the load, residual-current protected; an independent over-temperature cut-out"
        " and a flow interlock, never software alone; not left alone unless the interlocks were tested that day;"
        " emergency off in reach.",
    ),
    Caution(
        "Liquid near electricity",
        "supply above and away from drips, drip tray and leak sensor, pressure test after each opening and before"
        " power; isolate before opening. Ethylene glycol is poisonous: label, gloves, eye protection, local disposal"
        " rules.",
    ),
    Caution("Hot surfaces", "blocks and fittings can pass 60 °C: guard, mark, cool-down time on the sheet."),
    Caution(
        "Rotors",
        "finger guard whenever powered outside the chamber; never held by hand; no loose hair, lanyards, cables;"
        " never over-voltage; never spun with compressed air; eye protection with a damaged rotor.",
    ),
    Caution(
        "Optical tachometer",
        "class 2 or lower; don’t stare, don’t aim at faces or mirrors; reflective tape pressed on well, a paint dot"
        " for sound runs.",
    ),
    Caution(
        "Compressed air and doors moved by it",
        "pressure off before reaching in; hands clear; never at skin; local pressure limits for cleaning.",
    ),
    Caution(
        "Hearing",
        "calibrators (94 or 114 dB) not at the ear; hearing protection near blowers and compressors.",
    ),
    Caution(
        "Quiet room",
        "can be opened from inside; nobody alone with the door closed; foam burns: no heat source; fumes of glues and"
        " hot glue ventilated.",
    ),
    Caution(
        "DC supplies",
        "current limit before connecting, polarity, fuse the harness, no hot-plugging of control outputs.",
    ),
    Caution(
        "Stop rule",
        "smell, smoke, odd vibration, leak, alarm, coolant over its limit: power off at the main switch, then look.",
    ),
)
