"""Makes a mounting's sweeps and saves them in the kind of file, and the folder, that was usual for it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from stillroom.demo import texts, workbooks
from stillroom.demo.bench import Chamber, room_air
from stillroom.demo.draws import Draws
from stillroom.demo.exports import (
    CHAMBER_COLUMNS,
    CLOCK,
    DATE,
    DUTY_COLUMN,
    FREQUENCY_COLUMN,
    LOCAL_COLUMNS,
    Column,
    Head,
    Sweep,
    duct_columns,
    write_comma,
)
from stillroom.demo.fan import Control, Fan, Setting
from stillroom.demo.plan import Kind, Mounting
from stillroom.demo.round import Round
from stillroom.demo.sweeps import Occasion, Row, duct_sweep, fan_sweep

MOUNTING_SD = 0.004
"""Spread between mountings of a sample, of k_q and of k_p."""
ZERO_NOISE = 0.015
"""Standard deviation of a zero as it is read, a mean over half a minute [Pa]."""

NAMES = "{date} {any}/{fan} {sample} {mounting} {duty}pct"
"""How the whole round's files are named that no row of the run table speaks of."""

REPEATED = "_repeat"
"""What the name of a file ends in whose sweep repeats the first."""

One = Callable[[Path, Sweep, Head], None]
Many = Callable[[Path, Sequence[Sweep], Head], None]

_ONE: dict[Kind, tuple[str, One]] = {
    Kind.COMMA: ("csv", lambda path, sweep, _: write_comma(path, sweep)),
    Kind.NAMED: ("csv", lambda path, sweep, _: write_comma(path, sweep)),
    Kind.DUCT: ("csv", lambda path, sweep, _: write_comma(path, sweep)),
    Kind.SEMICOLON: ("csv", lambda path, sweep, _: texts.write_semicolon(path, sweep)),
    Kind.UTF16: ("tsv", texts.write_utf16),
    Kind.FIXED: ("txt", texts.write_fixed),
}
"""{kind: (suffix, how one sweep is written)}."""
_MANY: dict[Kind, tuple[str, Many]] = {
    Kind.BLOCKS: ("txt", texts.write_blocks),
    Kind.LONG: ("csv", lambda path, sweeps, _: texts.write_long(path, sweeps)),
    Kind.WORKBOOK: ("xlsx", workbooks.write_workbook),
    Kind.ODS: ("ods", workbooks.write_spreadsheet),
}
"""{kind: (suffix, how all sweeps of a mounting are written)}."""


@dataclass(frozen=True)
class Saved:
    """One sweep as it was saved.

    Parameters
    ----------
    file : relative to the folder. part : which sweep of the file, from 1; None where it is alone in it.
    """

    file: str
    part: int | None
    sweep: Sweep


def save_mounting(
    folder: Path, chamber: Chamber, plan: Round, mounting: Mounting, sample: Fan, date: str, operator: str
) -> tuple[Saved, ...]:
    """Make the sweeps of one mounting and write them.

    Parameters
    ----------
    sample : that truly was on the rig. date : of the mounting. operator : whose initials the logger writes.
    """
    sweeps = list(_sweeps(chamber, plan, mounting, sample, date))
    head = Head(mounting.fan, mounting.sample, operator, mounting.rig)
    place = _place(plan, mounting, date)
    if mounting.kind in _MANY:
        suffix, write_all = _MANY[mounting.kind]
        file = f"{place}.{suffix}"
        write_all(folder / file, sweeps, head)
        return tuple(Saved(file, i, each) for i, each in enumerate(sweeps, start=1))
    suffix, write_one = _ONE[mounting.kind]
    saved = []
    for each in sweeps:
        assert each.setting is not None
        repeated = REPEATED if each.again else ""
        file = f"{place}{'/' if not plan.full else ' '}{each.setting.name}{repeated}.{suffix}"
        write_one(folder / file, each, head)
        saved.append(Saved(file, None, each))
    return tuple(saved)


def _place(plan: Round, mounting: Mounting, date: str) -> str:
    """Folder and first words of the name of a mounting's files."""
    own = f"m{mounting.number}"
    if not plan.full:
        return f"exports/{mounting.fan}/{mounting.sample}/{own}"
    if mounting.check:
        return f"exports/reference/{date} {mounting.fan} {own}"
    return f"exports/{date} {mounting.rig}/{mounting.fan} {mounting.sample} {own}"


def _sweeps(chamber: Chamber, plan: Round, mounting: Mounting, sample: Fan, date: str) -> Iterator[Sweep]:
    draws = Draws(chamber.seed, f"mounting {mounting.name}")
    mounted = sample.varied(k_q=draws.near_one(MOUNTING_SD), k_p=draws.near_one(MOUNTING_SD))
    order = plan.order(mounting)
    begun = datetime.fromisoformat(date) + timedelta(
        hours=9, minutes=round(420 * plan.share_of_day(mounting))
    )
    settings = plan.settings(sample, mounting)
    turns = [
        (each, down, False) for each in settings for down in ((False, True) if mounting.turns else (False,))
    ]
    if plan.full and mounting.rig == "chamber" and not mounting.check:
        turns.append((settings[0], False, True))
    for i, (setting, down, again) in enumerate(turns):
        place = len(settings) if again else settings.index(setting)
        name = f"{mounting.name} {setting.name}" + (" down" if down else " again" if again else "")
        turn = (place + 0.37 * order + (0.8 if down else 0.0)) * 0.618034 % 1.0
        rows = _rows(chamber, plan, mounting, mounted, setting, name, turn, down=down)
        zeros = _zeros(chamber, plan, mounting, setting, name)
        start = begun + timedelta(minutes=5 * i)
        yield Sweep(rows, _columns(mounting, setting), setting, start, down, again, zeros)


def _zeros(
    chamber: Chamber, plan: Round, mounting: Mounting, setting: Setting, name: str
) -> tuple[float, float] | None:
    """The pressure gauge's zeros before and after a sweep, where the round writes them down."""
    if not plan.full or mounting.rig == "duct":
        return None
    draws = Draws(chamber.seed, f"zeros {name}")
    before = chamber.zero(mounting.day) + draws.normal(ZERO_NOISE)
    return before, before + mounting.wrong(setting.value).zero_drift + draws.normal(ZERO_NOISE)


def _rows(
    chamber: Chamber,
    plan: Round,
    mounting: Mounting,
    mounted: Fan,
    setting: Setting,
    name: str,
    turn: float,
    *,
    down: bool,
) -> tuple[Row, ...]:
    occasion = Occasion(
        name=name,
        day=mounting.day,
        air=room_air(chamber.seed, mounting.day, name),
        stagger=turn,
        points=plan.points,
        down=down,
        nozzle_factor=plan.nozzle_factor(mounting),
        frequency=mounting.frequency,
    )
    truly = Setting(mounting.truly(setting.value), setting.control)
    wrong = mounting.wrong(setting.value)
    if mounting.rig == "duct":
        return tuple(duct_sweep(chamber.seed, mounted, truly, occasion, wrong))
    return tuple(fan_sweep(chamber, mounted, truly, occasion, wrong))


def _columns(mounting: Mounting, setting: Setting) -> tuple[Column, ...]:
    """The columns of a sweep's file."""
    by_duty = setting.control is Control.DUTY
    if mounting.rig == "duct":
        return duct_columns("m³/h" if mounting.wrong(setting.value).flow_factor != 1.0 else "CFM")
    if mounting.kind is Kind.SEMICOLON:
        return LOCAL_COLUMNS
    if mounting.kind is Kind.FIXED:
        return (Column(DATE, DATE, "", 0), Column(CLOCK, CLOCK, "", 0), *_FIXED)
    if mounting.kind in _MANY and by_duty:
        more = (DUTY_COLUMN, FREQUENCY_COLUMN) if mounting.kind is Kind.LONG else (DUTY_COLUMN,)
        return (*more, *CHAMBER_COLUMNS)
    return CHAMBER_COLUMNS


_FIXED = tuple(
    Column(each.words, each.quantity, "Pa", 1) if each.quantity == "barometric_pressure" else each
    for each in CHAMBER_COLUMNS
    if each.quantity != "time"
)
