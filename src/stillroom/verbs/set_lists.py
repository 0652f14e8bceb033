"""The set list: from the quiet room to the other rigs, at which speed and duty each fan meets a noise limit."""

from __future__ import annotations

import csv as tables
import io
from dataclasses import replace
from pathlib import Path

from stillroom import wording
from stillroom.errors import BadInput
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import as_written
from stillroom.lab.sound import set_list as listing
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.level_words import speed_in_words
from stillroom.lab.sound.set_list import AtNoise, SetList
from stillroom.lab.sound.set_words import (
    as_data,
    interval_words,
    row_data,
    setting_cell,
    speed_words,
    telling,
)
from stillroom.lab.sound.sheet import sheet
from stillroom.lab.system_words import conditions_line
from stillroom.lab.whole import worked_out
from stillroom.measures import Condition
from stillroom.store.files import write_bytes
from stillroom.store.lab import now
from stillroom.verbs.answers import json_text
from stillroom.verbs.conditions import noise_limit
from stillroom.verbs.doors import open_lab, quantity
from stillroom.verbs.said import Said, Table

SUFFIXES = (".html", ".csv", ".json")


def set_list(
    *,
    noise: tuple[str, ...] = (),
    through: str = "",
    rig: str = "",
    size: str = "",
    only: tuple[str, ...] = (),
    csv: bool = False,
    out: Path | None = None,
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Say at which speed and duty each fan meets each noise limit: the list that other rigs are set by.

    Parameters
    ----------
    noise : a limit, such as 30 or '1.5 sone'; one --noise for each; those of lab.toml where none is given.
    through : the obstacle behind which the fans will stand, as for rank.
    rig : for which rig the list is; it stands in the heading.
    size : the size class, such as '120 mm'; the most common one where none is given.
    only : only these fans; one --only for each.
    csv : print a table of comma-separated values instead.
    out : write it into this file as well: a sheet to print (.html), .csv or .json.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if out is not None and out.suffix not in SUFFIXES:
        raise BadInput("--out", found=repr(out.name), expected=f"a file that ends in {', '.join(SUFFIXES)}")
    wanted = quantity(size, "--size", "length", "mm")
    with open_lab(lab) as opened:
        _, book, graph, _ = worked_out(opened, progress)
        only = as_written(book, graph, only)
        conditions = _conditions(noise, book.settings.sound.limits, through.strip())
        found = listing.set_list(Sounds(opened, book, graph), conditions, size=wanted, only=only)
        name = book.settings.name
    data, text = as_data(found, rig), csv_text(found)
    if out is not None:
        written = {".html": sheet(found, name, rig, now()[:10]), ".csv": text, ".json": json_text(data)}
        write_bytes(out, written[out.suffix].encode())
    if csv:
        return Said(text.rstrip("\n"), data=data)
    return Said(_title(found, rig), tables=_tables(found), lines=_lines(found, out), data=data)


def _conditions(noise: tuple[str, ...], usual: tuple[float, ...], through: str) -> list[Condition]:
    """One condition a limit, in rising order, each once."""
    limits = [noise_limit(each) for each in noise] or [(each, None) for each in usual]
    first = Condition(obstacle=through)
    ordered = sorted(dict.fromkeys(limits), key=lambda each: (each[0] or 0.0, each[1] or 0.0))
    return [replace(first, noise=level, sone=sone) for level, sone in ordered]


def _title(found: SetList, rig: str) -> str:
    fans = len({each.fan for each in found.rows})
    limits = len({each.limit for each in found.rows})
    where = f" for {rig}" if rig else ""
    return f"Set list{where}: {wording.plural(fans, 'fan')} at {wording.plural(limits, 'noise limit')}."


def _tables(found: SetList) -> tuple[tuple[str, Table], ...]:
    """The list, and under it where a further dwell would make it surer."""
    dwells = Table(
        ("fan", "speed", "limit", "chance that it keeps to it"),
        tuple(
            (each.fan, speed_in_words(each.speed), each.limit, f"{each.probability:.0%}")
            for each in found.next_dwells
        ),
        right=(1, 3),
    )
    helpful = (("Where one more dwell would tell most", dwells),) if dwells.rows else ()
    return (("", _listed(found)), *helpful)


def _listed(found: SetList) -> Table:
    headers = ("fan", "limit", "speed", "95 % interval [rpm]", "setting", "words", "key")
    return Table(headers, tuple(_row(each) for each in found.rows), right=(2,))


def _row(each: AtNoise) -> tuple[str, ...]:
    return (each.fan, each.limit, speed_words(each), interval_words(each), setting_cell(each),
            ", ".join(telling(each)), each.key[:10])  # fmt: skip


def _lines(found: SetList, out: Path | None) -> tuple[str, ...]:
    lines = [f"Left out: {fan}: {why}" for fan, why in found.left_out]
    ways = dict.fromkeys(each.setting.way for each in found.rows if each.setting)
    lines += [f"Settings {each}." for each in ways]
    if (
        found.rows
        and not any(speed_words(each) for each in found.rows)
        and not found.conditions.get("obstacle")
    ):
        lines.append(
            "No fan has a speed in free air; --through asks for sound that was measured with an obstacle."
        )
    lines.append(conditions_line(found.conditions))
    return (*lines, *([f"Written: {out}"] if out else []))


COLUMNS = ("fan", "limit", "speed [rpm]", "low [rpm]", "high [rpm]", "setting", "unit of setting", "avoid [rpm]",
           "tops out", "level [dBA]", "loudness [sone]", "sound measured with", "words", "key", "why")  # fmt: skip

UNITS = {"duty": "%", "volts": "V"}
"""Of settings by kind, as they are told to people."""


def csv_text(found: SetList) -> str:
    """The list as comma-separated values, one row a fan and limit: speeds to 0.1 rpm, duty in per cent to 0.1."""
    buffer = io.StringIO()
    writer = tables.writer(buffer, lineterminator="\n")
    writer.writerow(COLUMNS)
    for each in found.rows:
        told = row_data(each)
        level, loud = told["level"] or {}, told["loudness"] or {}
        speeds = (_rounded(told[name], 1) for name in ("speed", "low", "high"))
        values = (
            each.fan, each.limit, *speeds, *_setting(each), _bands(each), "yes" if each.tops_out else "no",
            _rounded(level.get("value"), 2), _rounded(loud.get("value"), 3), each.obstacle,
            "; ".join(each.marks), each.key, each.why,
        )  # fmt: skip
        writer.writerow(values)
    return buffer.getvalue()


def _rounded(value: float | None, places: int) -> str:
    return "" if value is None else f"{value:.{places}f}"


def _setting(row: AtNoise) -> tuple[str, str]:
    """The setting with its unit: of a fan that tops out the full one, where nothing tells its value in words."""
    told = row.setting
    if told is None:
        return setting_cell(row), ""
    value = f"{100 * told.value:.1f}" if told.kind == "duty" else f"{told.value:.2f}"
    return value, UNITS.get(told.kind, told.kind)


def _bands(row: AtNoise) -> str:
    """The bands to avoid as numbers: "1082.4-1114.0"."""
    return "; ".join(f"{60 * low:.1f}-{60 * high:.1f}" for low, high in row.avoid)
