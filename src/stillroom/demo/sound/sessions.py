"""The sessions of the short round and of the whole one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from stillroom.demo.catalogue import BY_VOLTAGE, REFERENCE_FAN
from stillroom.demo.fan import Control, Setting
from stillroom.demo.sound.plan import NONE, RAMP_SECONDS, Form, Session, Trouble, Visit, dwell, ramp
from stillroom.demo.sound.room import OLD
from stillroom.demo.sound.voices import INVERTING

QUICK_DUTIES, FULL_DUTIES = (55.0, 85.0, 100.0), (64.0, 82.0)
VOLTAGES = (9.0, 12.0)
SHORTER = 45.0
"""A ramp of the whole round [s]: a hundred recordings are to stay small; the fan that inverts gets a longer one."""
NEARER = 0.4
"""Where the microphone stood when it had been moved [m]."""
GAIN = 0.9
"""By how much the recorder's gain was moved in a session [dB]."""
CHECKED_AT, NOON = (82.0,), 12
"""At which duty the reference fan is recorded [%], in sessions that begin before this hour."""
_LORRY, _PULSES, _KNOCK = Trouble(lorry=True), Trouble(pulses=2.0), Trouble(bump=True)

Forms = Mapping[float, Form]
Wrongs = Mapping[float, Trouble]


def quick_sessions(obstacle: str, *, faults: bool) -> tuple[Session, ...]:
    """The short round: six fans, each with the radiator `obstacle`, and a second sample on a noisy afternoon."""

    def visit(fan: str, forms: Forms | None = None, wrong: Wrongs | None = None) -> Visit:
        return _visit(fan, obstacle, QUICK_DUTIES, forms, wrong)

    later = _brief("Bracken", "s2", 1, obstacle, (55.0, 85.0), Form.WAV_16)
    sessions = (
        Session(2, 9, (visit("Bracken", {100.0: Form.WAV_24}), visit("Tormentil"), visit("Bilberry"))),
        Session(
            3, 9,
            (
                visit("Asphodel", wrong={85.0: _PULSES}),
                visit("Sedge", {100.0: Form.SLOWER}, {55.0: _LORRY}),
                visit("Sundew", {100.0: Form.TWO}),
            ),
        ),
        Session(3, 14, (later,), "afternoon", OLD, Form.WAV_16, rise=6.0),
    )  # fmt: skip
    return _as_told(sessions, faults=faults)


def full_sessions(obstacle: str, *, faults: bool) -> tuple[Session, ...]:
    """The whole round: fourteen fans with the radiator `obstacle`, some of them again, one in free air too.

    The reference fan hangs there first, in the middle and last of each morning.
    """

    def visit(fan: str, forms: Forms | None = None, wrong: Wrongs | None = None) -> Visit:
        settings = VOLTAGES if fan in BY_VOLTAGE else FULL_DUTIES
        seconds = RAMP_SECONDS if fan == INVERTING else SHORTER
        return _visit(fan, obstacle, settings, forms, wrong, seconds)

    def again(fan: str, sample: str, number: int, through: str = obstacle) -> Visit:
        return _brief(fan, sample, number, through, (64.0, 82.0))

    later = _brief("Bracken", "s2", 1, obstacle, (64.0, 82.0), Form.FLAC_16)
    moved = replace(again("Crowberry", "s1", 2), distance=NEARER)
    first = (
        visit("Bracken", {82.0: Form.WAV_24}),
        visit("Tormentil"),
        visit("Bilberry"),
        visit("Asphodel", wrong={82.0: _PULSES}),
        visit("Sedge", {82.0: Form.SLOWER}, {64.0: _LORRY}),
    )
    second = (
        visit("Sundew", {82.0: Form.TWO}),
        visit("Crowberry", {82.0: Form.FASTER}),
        visit("Cottongrass", wrong={64.0: _KNOCK}),
        visit("Cloudberry"),
    )
    third = tuple(visit(each) for each in ("Bogbean", "Gorse", "Milkwort", "Butterwort", "Cranberry"))
    twice = (again("Gorse", "s1", 2), again("Milkwort", "s1", 2))
    sessions = _watched(
        Session(5, 9, first),
        Session(6, 9, second),
        Session(6, 14, (later,), "afternoon", OLD, Form.FLAC_16, rise=6.0),
        Session(7, 9, third),
        Session(7, 14, twice, "afternoon", gain=GAIN),
        Session(8, 9, (moved, again("Bilberry", "s2", 1), again("Bracken", "s1", 2, ""))),
    )
    return _as_told(sessions, faults=faults)


def _watched(*sessions: Session) -> tuple[Session, ...]:
    """The sessions with the reference fan, in free air, in those of a morning."""
    found: list[Session] = []
    number = 1
    for each in sessions:
        visits = each.visits
        if each.hour < NOON:
            checks = [_brief(REFERENCE_FAN, "s1", number + i, "", CHECKED_AT) for i in range(3)]
            middle = (len(visits) + 1) // 2
            visits = (checks[0], *visits[:middle], checks[1], *visits[middle:], checks[2])
            number += len(checks)
        found.append(replace(each, visits=visits))
    return tuple(found)


def _as_told(sessions: tuple[Session, ...], *, faults: bool) -> tuple[Session, ...]:
    return sessions if faults else tuple(each.faultless() for each in sessions)


def _setting(fan: str, value: float) -> Setting:
    return Setting(value, Control.VOLTS if fan in BY_VOLTAGE else Control.DUTY)


def _visit(
    fan: str,
    obstacle: str,
    settings: tuple[float, ...],
    forms: Forms | None,
    wrong: Wrongs | None,
    seconds: float = RAMP_SECONDS,
) -> Visit:
    """A first visit: a ramp up, then dwells; `forms` and `wrong` by setting."""
    forms, wrong = forms or {}, wrong or {}
    dwells = tuple(
        dwell(_setting(fan, each), forms.get(each, Form.FLAC), wrong.get(each, NONE)) for each in settings
    )
    return Visit(fan, "s1", 1, (ramp(seconds=seconds), *dwells), obstacle)


def _brief(
    fan: str, sample: str, number: int, obstacle: str, settings: tuple[float, ...], form: Form = Form.FLAC
) -> Visit:
    """A visit without a ramp."""
    return Visit(fan, sample, number, tuple(dwell(_setting(fan, each), form) for each in settings), obstacle)
