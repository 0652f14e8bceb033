"""Answers: fans in order, charts, and where a number comes from."""

from __future__ import annotations

import csv as tables
import io
import json
import math
from collections.abc import Mapping
from pathlib import Path

from stillroom import wording
from stillroom.compare.standing import BridgeNote, Ranking, Standing
from stillroom.errors import BadInput
from stillroom.lab.compared import compared
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import Asked
from stillroom.lab.pictures import pictures
from stillroom.lab.question import spread_name
from stillroom.lab.range_words import both_ends
from stillroom.lab.ranking_words import (
    further_lines,
    margin_words,
    price_lines,
    range_lines,
    rank_lines,
    without_lines,
    worth_lines,
)
from stillroom.lab.sound.fan_sound import SPREAD as LEVEL_SPREAD
from stillroom.lab.sound.level_words import SOUND_UNITS, TOO_LOUD, unit_at
from stillroom.lab.system_words import conditions_line
from stillroom.lab.tracing import follow
from stillroom.lab.whole import worked_out
from stillroom.measures import Origin, as_asked, measure_named
from stillroom.measures.sound import LEVEL, LOUDNESS
from stillroom.records.acts import Spread
from stillroom.store.files import write_bytes
from stillroom.verbs.conditions import USUAL, Conditions
from stillroom.verbs.doors import open_lab, quantity
from stillroom.verbs.said import Said, Table


def asked(
    measure: str,
    through: str = "",
    conditions: Conditions = USUAL,
    size: str = "",
    only: tuple[str, ...] = (),
) -> Asked:
    """What the options of a ranking ask for."""
    wanted = quantity(size, "--size", "length", "mm")
    condition = conditions.through(through)
    return Asked(as_asked(measure_named(measure), condition), condition, wanted, only)


def rank(
    measure: str = "airflow",
    *,
    through: str = "",
    conditions: Conditions = USUAL,
    size: str = "",
    only: tuple[str, ...] = (),
    fans: int = 0,
    csv: bool = False,
    out: Path | None = None,
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Put fans in order by a measure, with ties drawn as ties.

    Parameters
    ----------
    measure : airflow, pressure-at, speed-at, power-at, efficiency-at or pressure-to-spare, each through an
        obstacle; free-airflow, free-speed, free-power, maximum-pressure, air-power, static-efficiency, load-line,
        load-line-open or load-line-restrictive, each without one; of sound level, loudness, sharpness, and with
        --noise limited-speed; with --for-flow needed-speed, level or loudness, through an obstacle, and with
        --for-heat on a heat rig; of heat runs heat (the temperature rise), conductance and heat-power;
        of tests of the control start-duty, stop-duty, lowest-duty, lowest-speed, start-voltage, stop-voltage,
        linearity, open-wire-speed and inrush.
    through : what the air goes through: an obstacle, such as rad27 (the latest version) or rad27@2; several
        behind each other, 'rad27+mesh', or side by side, 'rad27 beside mesh'; or a resistance, such as
        '20 Pa at 60 m³/h' (Δp = kQ²) or '0.085 Q + 0.00115 Q²' (Pa, Q in m³/h).
    conditions : setting, system and air; each field is an option of the command line.
    size : the size class, such as '120 mm'; the most common one where none is given.
    only : only these fans; one --only for each.
    fans : show only so many of the list, best first; the data always hold all.
    csv : print a table of comma-separated values instead.
    out : write the data into this file (.json or .csv) as well.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if fans < 0:
        raise BadInput("--fans", found=str(fans), expected="how many to show, or 0 for all")
    question = asked(measure, through, conditions, size, only)
    with open_lab(lab) as opened:
        answer = compared(worked_out(opened, progress), question, progress)
        spreads = opened.current(Spread)
    found = answer.ranking
    data = found.as_dict()
    text = csv_text(found)
    if out is not None:
        write_bytes(out, (text if out.suffix == ".csv" else json_text(data)).encode())
    if csv:
        return Said(text.rstrip("\n"), data=data)
    return Said(
        pictures.ranking_words(found, question.measure),
        tables=(("", standing_table(found, fans)),),
        lines=(*_block_words(answer.blocks), *_words(found, fans), *spread_lines(question, spreads)),
        data=data,
    )


def json_text(data: object) -> str:
    """Data as a JSON document."""
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def unit_words(found: Ranking) -> str:
    """The unit of a ranking's values; beside one of sound stands the distance at which it holds."""
    return unit_at(found.unit, found.conditions)


def standing_table(found: Ranking, fans: int = 0) -> Table:
    """A ranking as a table of words, no digit more than the interval allows.

    Fans that can't run so quiet stand at its foot, with their words.
    """
    shown = found.standings[:fans] if fans else found.standings
    loud = [each for each in found.excluded if each.why.startswith(TOO_LOUD)]
    return Table(
        (
            "rank",
            "fan",
            f"value [{unit_words(found)}]",
            "95 % interval",
            "verdict",
            "how",
            "basis",
            "marks",
            "key",
        ),
        (
            *(_row(each) for each in shown),
            *(("none", each.fan, "", "", TOO_LOUD, "", "", each.why.partition(": ")[2], "") for each in loud),
        ),
        right=(2,),
    )


def _row(each: Standing) -> tuple[str, ...]:
    value, interval = _value_words(each)
    basis = f"{wording.plural(each.samples, 'sample')}, {wording.plural(each.mountings, 'mounting')}"
    basis = basis if each.mountings else "no raw data"
    rank_words = wording.places(each.rank)
    bound = f"{each.bound.value} " if each.bound.value and each.ends is None else ""
    return (rank_words, each.fan, bound + value, interval, each.verdict.value, each.how.value, basis,
            ", ".join(each.marks), each.key[:10])  # fmt: skip


def _value_words(each: Standing) -> tuple[str, str]:
    """A value and its interval; of a bound only the end that is known."""
    low, high = each.low, each.high
    if math.isfinite(low) and math.isfinite(high):
        places = wording.places_for((high - low) / 2) if high > low else 1
        ends = f"{wording.number(low, places)} to {wording.number(high, places)}"
        said = both_ends(*each.ends, places) if each.ends else wording.number(each.value, places)
        return said, ends
    end = high if math.isfinite(high) else low
    if not math.isfinite(end):
        return wording.bare(each.value), "not told"
    places = wording.places_for(abs(end - each.value)) if end != each.value else 1
    ends = f"up to {wording.number(end, places)}" if end == high else f"{wording.number(end, places)} or more"
    return wording.number(each.value, places), ends


def _block_words(blocks: dict[str, int]) -> list[str]:
    """Whose numbers open findings keep from publication, and how many."""
    named = [f"{wording.isolate(fan)} ({count})" for fan, count in blocks.items()]
    said = f"Open findings block: {', '.join(named)} — not to be published until decided (stillroom review)."
    return [said] if named else []


def _words(found: Ranking, fans: int) -> list[str]:
    lines = []
    if fans and len(found.standings) > fans:
        lines.append(f"and {len(found.standings) - fans} more")
    lines += without_lines([each for each in found.excluded if not each.why.startswith(TOO_LOUD)])
    lines.append(conditions_line(found.conditions))
    lines += [_bridge_words(each) for each in found.bridges]
    lines += range_lines(found)
    lines.append(
        f"A gap under {margin_words(found.margin, found.unit)} counts as none; gaps are settled over common trials."
    )
    lines += [*rank_lines(found), *further_lines(found), *worth_lines(found), *price_lines(found)]
    return lines


def _bridge_words(each: BridgeNote) -> str:
    """By what values of an earlier era were multiplied, and what that rests on."""
    before, after = each.mountings
    return (
        f"Bridge of {each.rig or 'the rig'}, era {each.era[0]} to {each.era[1]} ({each.event}): {each.words},"
        f" from {wording.listed(each.samples, most=4)},"
        f" {wording.plural(before, 'mounting')} before and {wording.plural(after, 'mounting')} after"
        + ("" if each.agree else "; its samples disagree")
        + f" [{each.key[:10]}]"
    )


def spread_lines(question: Asked, agreed: Mapping[str, Spread]) -> list[str]:
    """Between what units and mountings the intervals speak, and on how much that rests: of the measure, and of levels
    where the speed comes from a noise limit.
    """
    measure, condition = question.measure, question.condition
    needed = condition.for_flow is not None or condition.for_heat is not None
    by_level = condition.is_limited or needed
    own = spread_name(measure, condition)
    of_fan = measure.origin is Origin.LIMIT or (by_level and measure.name in (LEVEL, LOUDNESS))
    lines = [] if of_fan else [_spread_words(agreed.get(own), measure.spread_unit)]
    if by_level and own != LEVEL_SPREAD:
        lines.append(_spread_words(agreed.get(LEVEL_SPREAD), "dB", " of levels"))
    return lines


def _spread_words(spread: Spread | None, unit: str, of: str = "") -> str:
    if spread is None:
        said = "assumed, until mountings are repeated and nothing blocks"
        return f"Spread{of} between mountings and between samples: {said}."
    mounting, sample = (
        f"{each:.2g} {unit}" if unit else f"{each:.1%}" for each in (spread.mounting, spread.sample)
    )
    return (
        f"Spread{of} agreed {spread.date} from {wording.plural(spread.fans, 'fan')}: between mountings"
        f" {mounting} ({spread.mounting_dof:.0f} degrees of freedom), between samples"
        f" {sample} ({spread.sample_dof:.0f}, of which 4 are assumed)."
    )


def csv_text(found: Ranking) -> str:
    """The standings as comma-separated values, full precision, one row a fan."""
    buffer = io.StringIO()
    writer = tables.writer(buffer, lineterminator="\n")
    names = ("fan", "value", "low", "high", "unit", "bound", "rank_from", "rank_to", "verdict", "how",
             "samples", "mountings", "marks", "key", "why_not")  # fmt: skip
    distance = found.conditions.get("distance")
    at = [distance] if distance and found.unit in SOUND_UNITS else []
    writer.writerow([*names, *(["distance"] if at else [])])
    for each in found.standings:
        ends = [end if math.isfinite(end) else "" for end in (each.low, each.high)]
        writer.writerow(
            [each.fan, each.value, *ends, found.unit, each.bound.value, *(each.rank or ("", "")), each.verdict.value,
             each.how.value, each.samples, each.mountings, "; ".join(each.marks), each.key, "", *at]
        )  # fmt: skip
    for gone in found.excluded:
        writer.writerow([gone.fan, *[""] * 13, gone.why, *at])
    return buffer.getvalue()


def trace(key: str, *, lab: Path | None = None) -> Said:
    """Follow a number back: measure, curves, points, runs, originals, instruments, calibrations, methods.

    Parameters
    ----------
    key : the key beside the number, or its first digits.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    with open_lab(lab) as opened:
        found = follow(opened, key)
    return Said(found.title, lines=found.lines, data=found.data)
