"""What a preview shows: files of one shape described once, and each file's runs in a line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from stillroom import wording
from stillroom.lab.book import row_for
from stillroom.lab.intake.batch import Measured, Part
from stillroom.lab.intake.entering import merged
from stillroom.lab.intake.heat_parts import log_words
from stillroom.lab.intake.naming import FIELDS
from stillroom.lab.intake.parts import SETTINGS_SHOWN, setting_words
from stillroom.lab.intake.patterns import shown as shown_as
from stillroom.lab.intake.recordings import in_words as audio_words
from stillroom.lab.intake.recordings import is_dwell, is_of_fan, length_words
from stillroom.lab.purposes import Purpose, purpose_of
from stillroom.records.acts import Run
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

MOST_NAMED = 12
"""So many files of one shape are shown one by one; the others are counted."""


def described(measured: Sequence[Measured], units: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """What was understood, by file; of files alike the first is described and the others are named.

    Parameters
    ----------
    units : {dimension: unit} that the lab shows.
    """
    groups: dict[tuple[str, ...], list[Measured]] = {}
    for each in measured:
        groups.setdefault(_shape(each), []).append(each)
    shown: dict[str, tuple[str, ...]] = {}
    for alike in groups.values():
        first, others = alike[0], [each.file.name for each in alike[1:]]
        words = _words(first, units)
        if others:
            named = ", ".join(others[:MOST_NAMED])
            more = f" and {len(others) - MOST_NAMED} others" if len(others) > MOST_NAMED else ""
            words.append(f"and {len(others)} more like it: {named}{more}")
        shown[first.file.name] = tuple(words)
    return shown


def _shape(each: Measured) -> tuple[str, ...]:
    """What files have in common that are described once: how their tables are read, whatever their lengths."""
    blocks = each.seen.blocks if each.seen else ()
    layouts = [replace(block.layout, header_line=1, encoding="") for block in blocks]
    tables = (f"{block.kind.value} {one}" for block, one in zip(blocks, layouts, strict=True))
    return (each.layout, *tables, *(audio_words(part.audio) for part in each.parts if part.audio))


def _words(each: Measured, units: Mapping[str, str]) -> list[str]:
    if recorded := [audio_words(part.audio) for part in each.parts if part.audio]:
        return recorded
    if each.seen is None:
        return ["in the lab already, as it was understood before"]
    words = [f"read by layout {each.layout}"] if each.layout else []
    for number, block in enumerate(each.seen.blocks, start=1):
        if len(each.seen.blocks) > 1:
            words.append(f"table {number}:")
        words += [*block.words, *_middle_reading(each, block.layout.to_dict(), units)]
    return words + [f"passed over: {why}" for why in each.seen.passed_over]


def _middle_reading(each: Measured, layout: dict[str, Any], units: Mapping[str, str]) -> list[str]:
    """One reading of a table as the lab will show it: a wrong unit is seen at a glance."""
    part = next((part for part in each.parts if part.layout == layout), None)
    if part is None:
        return []
    at = (part.first + part.last) // 2
    shown = []
    for name, values in part.recording.columns.items():
        known = BY_NAME[name]
        symbol = shown_unit(known, dict(units))
        shown.append(f"{known.label.lower()} {wording.bare(from_si(float(values[at]), symbol))} {symbol}")
    return [f"line {part.recording.lines[at]} as this lab shows it: {', '.join(shown)}"]


def runs_in_words(
    each: Measured, said: Mapping[str, str], told: Mapping[str, str], rows: Mapping[str, list[Run]]
) -> tuple[str, ...]:
    """Each run of a file in a line: part, lines, setting, direction, and what is said of it.

    Parameters
    ----------
    each : the file. said : what its name and `--as` say, told : what `--as` says of every file.
    rows : the run table's, as `by_path` gives them.
    """
    name, first = each.file.name, next(iter(each.before), None)
    if not each.parts:  # in the lab already
        return tuple(
            _run(
                _Shown(
                    one.part,
                    f"{one.points:,} samples" if "audio" in one.layout else f"{one.points} readings",
                    one.direction or "",
                    one.found or {},
                    one.measured or "",
                    purpose_of(one.content) not in {Purpose.HEAT, Purpose.CONTROL},
                ),
                (merged(one, said, told) if told else one.said) or {},
                row_for(name, rows, one.part),
            )
            for one in each.before
        )
    standing = (merged(first, said, told) or {}) if first else said
    return tuple(_run(_shown(part), standing, row_for(name, rows, part.number)) for part in each.parts)


@dataclass(frozen=True)
class _Shown:
    """What a run's line shows, whether it was understood now or is in the lab already."""

    number: int | None
    extent: str
    direction: str
    found: dict[str, str]
    measured: str
    wants_setting: bool = True


def _shown(part: Part) -> _Shown:
    if part.audio:
        return _Shown(None, length_words(part.audio.length), "", part.found, part.measured)
    if part.kind.is_heat:
        return _Shown(None, log_words(part.recording), "", part.found, part.measured, wants_setting=False)
    lines = part.recording.lines[part.first : part.last]
    extent = f"lines {lines[0]} to {lines[-1]}"
    return _Shown(part.number, extent, part.direction, part.found, part.measured, not part.kind.is_control)


def _run(shown: _Shown, said: Mapping[str, str], row: Run | None) -> str:
    by_row = {name: getattr(row, name) for name in FIELDS if getattr(row, name, None) is not None}
    if any(name in by_row for name in SETTINGS_SHOWN):
        said = {name: value for name, value in said.items() if name not in SETTINGS_SHOWN}
    told = shown.found | dict(said) | {name: str(value) for name, value in by_row.items()}
    recorded = told.pop("recording", "")
    if not is_of_fan(recorded):
        told = {name: value for name, value in told.items() if name not in SETTINGS_SHOWN}
    setting = next((setting_words(name, told[name]) for name in SETTINGS_SHOWN if name in told), "")
    wants = bool(told.get("fan")) and is_dwell(recorded) and shown.wants_setting
    words = [f"part {shown.number}"] if shown.number else []
    words += [shown.extent, *([recorded] if recorded else [])]
    words += [setting or "no setting told"] if setting or wants else []
    words += [shown.direction] if shown.direction else []
    others = (name for name in FIELDS if name in told and name not in SETTINGS_SHOWN)
    words += [f"{name.replace('_', ' ')} {shown_as(name, told[name])}" for name in others]
    words += [f"measured {shown.measured}"] if shown.measured else []
    return ", ".join(words)
