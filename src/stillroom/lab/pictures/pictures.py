"""Series and words for the charts, taken from finished results; the charts room only draws them."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import Path

from stillroom import wording
from stillroom.charts.draw import draw
from stillroom.charts.further_series import Chart
from stillroom.charts.series import Bar, RankedBars
from stillroom.charts.series import Bound as DrawnBound
from stillroom.compare.candidates import Bound, How
from stillroom.compare.standing import Ranking, Standing
from stillroom.core.multiple import Merit
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.eras.bridges import ERA_LEFT_OUT
from stillroom.lab.eras.kept_bridges import BRIDGED
from stillroom.lab.heat.nodes import rig_words
from stillroom.lab.pictures.condition_words import around, file_parts, speed_phrase, through_phrase
from stillroom.lab.pictures.picture_words import described, footer, plain_name
from stillroom.lab.sound.level_words import IN_THE_FLOOR, TOO_LOUD, unit_at
from stillroom.measures import Measure
from stillroom.methods.sound.scales import NOT_CALIBRATED
from stillroom.records.settings import Settings

__all__ = ["bar_of", "bars", "condition_words", "described", "ranking_words", "save", "subtitle_words"]


def condition_words(found: Ranking) -> str:
    """Where a ranking holds, as a sentence begins; with a comma where it tells of a system."""
    said, system = _where(found), around(found.conditions)
    return said[0].upper() + said[1:] + (f"{system}," if system else "")


def _where(found: Ranking) -> str:
    """Through what and at which setting, as a sentence goes on; a heat rig has its own radiator, which isn't said."""
    if by_heat(found):
        return speed_phrase(found.conditions)
    is_free = "airflow" in found.measure or found.conditions["speed"] is None
    free = "in free air" if is_free else ""
    return f"{through_phrase(found.conditions) or free} {speed_phrase(found.conditions)}".strip()


def ranking_words(found: Ranking, measure: Measure) -> str:
    """The finding of a ranking in one sentence."""
    title = wording.ranking_title(
        found.best,
        len(found.standings),
        condition_words(found),
        measure.claim,
        by="" if measure.name in {"airflow", "free-airflow"} else measure.title.lower(),
        is_whole=not any(each.measured for each in found.excluded),
    )
    return wording.sentence(title)


def bars(
    settings: Settings, found: Ranking, measure: Measure, fan: str, fans: int, through: str = ""
) -> tuple[RankedBars, str]:
    """Ranked bars of a ranking, and the name of their files; `through` describes the obstacle.

    Raises
    ------
    UnknownThing : the fan under review isn't in the ranking. NotPossible : no fan could be ranked; with why.
    """
    names = [each.fan for each in found.standings]
    if not names:
        raise NotPossible(
            f"bars of {measure.name}",
            found="no fan that could be ranked" + _whys(found),
            expected="one or more",
        )
    if fan and fan not in names:
        raise UnknownThing("fan", found=repr(fan), expected=", ".join(names) or "a fan that can be ranked")
    shown = list(found.standings[:fans])
    if fan and fan not in [each.fan for each in shown]:
        shown[-1] = next(each for each in found.standings if each.fan == fan)
    left = len(found.standings) - len(shown)
    foot = missing_bars(found, fan)[: max(0, fans - len(shown))]
    too_loud = {each.label for each in foot}
    tied = [each.fan for each in shown if each.fan in found.best]
    unit = found.unit
    starts_at = None if measure.has_zero else _start(shown)
    cue = cue_of(measure)
    picture = RankedBars(
        title=ranking_words(found, measure).rstrip("."),
        subtitle=f"{OVER.get(measure.name, measure.title)}{f' through {through}' if through else ''}, "
        f"{unit_at(unit, found.conditions)}"
        f"{limit_phrase(found)}{subtitle_words(found)}" + (f"; {left} more not shown" if left else ""),
        cue=cue if starts_at is None else "← further left is quieter",
        footer=footer(settings, methods_of(found, measure), _basis(shown)) + _assumed(shown),
        unit=unit,
        bars=(*(bar_of(each, found, fan) for each in shown), *foot),
        excluded=tuple(each for each in _not_ranked(found) if each[0] not in too_loud),
        alt=_alt(found, measure, shown, tied, fan),
        measure=measure.title,
        notes=(
            *(words for mark, words in ERAS.items() if any(mark in each.marks for each in shown)),
            *([_scale_words(starts_at, unit)] if starts_at is not None else []),
            *_said_of(shown, HEARD),
        ),
        starts_at=starts_at,
    )
    told = found.conditions
    return picture, plain_name(
        measure.name, str(told["obstacle"] or ""), str(told["speed"] or ""), *file_parts(told)[1:]
    )


BETTER = {"heat": "cooler"}
"""What the better value of a measure is, in a word; "better" for the others."""


OVER = {"heat": "Temperature rise over the air going in"}
"""Titles of measures as a subtitle says them where it says more."""


def cue_of(measure: Measure) -> str:
    """The cue beside its bars."""
    return wording.direction_cue(
        larger_is_better=measure.merit is Merit.MORE, better=BETTER.get(measure.name, "better")
    )


def methods_of(found: Ranking, measure: Measure) -> str:
    """The methods that a ranking rests on, as the footer names them: the measure's, and those of heat and sound."""
    told = found.conditions
    others = (told.get("heat method"), told.get("sound method"))
    return ", ".join([f"{measure.name} {found.version}", *(str(each) for each in others if each)])


STEP = 5.0
"""At which full steps the scale of a quantity without a zero starts [dB]."""


def _start(shown: Sequence[Standing]) -> float:
    """Where such a scale starts: below all values and their intervals."""
    lowest = min(min(each.value, each.low if math.isfinite(each.low) else each.value) for each in shown)
    return STEP * math.floor(max(0.0, lowest) / STEP - 1e-6)


def _scale_words(starts_at: float, unit: str) -> str:
    start = wording.with_unit(wording.number(starts_at), unit)
    return f"Dots, not bars: a level has no zero. The scale starts at {start}."


HEARD = (NOT_CALIBRATED, "no background recorded")
"""The marks of a sound's scale that stand under a chart, with the fans that they concern."""


def _basis(shown: list[Standing]) -> str:
    samples, mountings = sum(each.samples for each in shown), sum(each.mountings for each in shown)
    return f"{wording.plural(samples, 'sample')}, {wording.plural(mountings, 'mounting')}, lines show 95 %"


def bar_of(each: Standing, found: Ranking, fan: str = "") -> Bar:
    """A standing as a bar; `fan` is the one under review."""
    best, is_legacy = each.fan in found.best, each.how is How.LEGACY
    ends = [max(0.0, end) if math.isfinite(end) else None for end in (each.low, each.high)]
    whole = None not in ends
    return Bar(
        label=each.fan,
        value=max(0.0, each.value),
        low=ends[0] if whole else None,
        high=ends[1] if whole else None,
        mark_word=wording.mark_for(len(found.best)) if best else "",
        is_leader_tied=best,
        note=", ".join(_notes(each)),
        accent=each.fan == fan,
        bound={Bound.AT_LEAST: DrawnBound.AT_LEAST, Bound.AT_MOST: DrawnBound.AT_MOST}.get(
            each.bound, DrawnBound.NONE
        ),
        is_legacy=is_legacy,
        is_range=each.bound is Bound.RANGE,
    )


def limit_phrase(found: Ranking) -> str:
    """The noise limit with its distance, as a subtitle goes on; "" where no limit sets the speed."""
    at = speed_phrase(found.conditions)
    return f", {at}" if LIMITED.search(at) else ""


LIMITED = re.compile(r"\d (?:dBA|sone)\b")
"""How a noise limit is told among the conditions of an answer."""


def missing_bars(found: Ranking, fan: str = "") -> tuple[Bar, ...]:
    """The fans that can't run so quiet, as rows without a bar at the foot."""
    return tuple(
        Bar(each.fan, 0.0, None, None, note=TOO_LOUD, accent=each.fan == fan, is_missing=True)
        for each in found.excluded
        if is_too_loud(each.why)
    )


def is_too_loud(why: str) -> bool:
    """Whether a fan is left out because it can't run so quiet."""
    return why.startswith(TOO_LOUD)


def _not_ranked(found: Ranking) -> list[tuple[str, str]]:
    """Fans without a value, each with why in few words; those of another size belong to another chart."""
    other = f"mm, not {found.conditions['size']}"
    return [
        (each.fan, each.why.partition("; expected ")[0])
        for each in found.excluded
        if not each.why.endswith(other)
    ]


def by_heat(found: Ranking) -> bool:
    """Whether fans were compared by runs of a heat rig."""
    return bool(found.conditions.get("nominal power"))


def subtitle_words(found: Ranking) -> str:
    """The air, the size class and what was modelled, as a subtitle goes on."""
    told = found.conditions
    at = "" if str(told["density"]).startswith("levels") else "at "
    air = "" if told["density"] is None else f"{at}{told['density']}"
    parts = [
        f"{told['nominal power']} on {rig_words(str(told['rig'] or ''))}" if by_heat(found) else air,
        f"{told['size']} fans" if told["size"] else "",
        told.get("modelled") or "",
    ]
    return "".join(f", {each}" for each in parts if each)


def _whys(found: Ranking) -> str:
    """Why each fan is left out, those with one reason together."""
    reasons: dict[str, list[str]] = {}
    for each in found.excluded:
        reasons.setdefault(each.why, []).append(each.fan)
    said = "; ".join(f"{wording.listed(fans, most=6)}: {why}" for why, fans in reasons.items())
    return f" ({said})" if said else ""


ON_THE_BAR = {
    each: each
    for each in (
        "not unique",
        "on a rising branch",
        "extrapolated",
        "open finding",
        "sweeps up and down differ",
        "forecast",
    )
} | {BRIDGED: BRIDGED, ERA_LEFT_OUT: "another era left out"}
"""The marks that a reader of a chart must see, as they stand there; the others stand in the table."""

IN_FEW_WORDS = (
    (re.compile(r"(tops out at (?:no more than )?\S+ (?:dBA|sone))\b.*"), r"\1"),
    (re.compile(r"above [^:]+: (avoid .*)"), r"\1"),
    (re.compile(r"two speeds possible: avoid.*"), "two speeds possible"),
    (re.compile(rf"{re.escape(IN_THE_FLOOR)}.*"), "in the noise floor"),
    (re.compile(r"has a (tone at \S+ Hz).*"), r"\1"),
    (re.compile(r"modelled: heat .*"), "modelled"),
    (re.compile(r"forecast: .*"), "forecast"),
)
"""Marks of sound, and what stands of them on a bar; the distance stands in the subtitle."""

ERAS = {
    BRIDGED: "Bridged: measured before a change of the rig, and brought over by samples measured on both sides of it.",
    ERA_LEFT_OUT: "Another era left out: mountings from before a change of the rig that nothing brings over.",
}
"""What the marks of eras mean, in a sentence beneath."""

ASSUMED = ("bench accuracy not told", "air not recorded", "stated bench accuracy")
"""The marks that stand under a chart, with the fans that they concern."""


def _assumed(shown: list[Standing]) -> str:
    """What had to be assumed, and for whom, as it stands in the footer."""
    return "".join(f" · {each}" for each in _told_of(shown, ASSUMED))


def _said_of(shown: list[Standing], words: Sequence[str]) -> list[str]:
    """Marks with the fans that they concern, as one note."""
    told = _told_of(shown, words)
    return [wording.sentence("; ".join(told))] if told else []


def _told_of(shown: list[Standing], words: Sequence[str]) -> list[str]:
    parts = []
    for word in words:
        fans = [each.fan for each in shown if any(mark.startswith(word) for mark in each.marks)]
        whom = "all" if len(fans) == len(shown) else wording.listed(fans, most=4)
        parts += [f"{word}: {whom}"] if fans else []
    return parts


def _notes(each: Standing) -> list[str]:
    """What stands at a fan's bar: the marks that must be seen, and what it rests on, where that is little."""
    few = ["legacy number"] if each.how is How.LEGACY else ["1 sample"] if each.samples == 1 else []
    said = [on_the_bar(mark) for mark in each.marks]
    return [*(words for words in said if words), *few] if _is_heard(each) else [*few, *(w for w in said if w)]


def on_the_bar(mark: str) -> str:
    """A mark as a bar carries it, in few words; "" for one that stands in the table only."""
    for pattern, words in IN_FEW_WORDS:
        hit = pattern.match(mark)
        if hit:
            return hit.expand(words)
    return ON_THE_BAR.get(mark, "")


def _is_heard(each: Standing) -> bool:
    """Whether marks of sound stand beside a fan: they come first, since they change what the number means."""
    return any(pattern.match(mark) for pattern, _ in IN_FEW_WORDS for mark in each.marks)


def _ends(each: Standing) -> tuple[float | None, float | None]:
    """The ends of an interval; None where an end is open."""
    return (each.low, each.high) if math.isfinite(each.low) and math.isfinite(each.high) else (None, None)


def _alt(found: Ranking, measure: Measure, shown: list[Standing], tied: list[str], fan: str) -> str:
    what = f"{measure.title.lower()} {_where(found)}{around(found.conditions)}"
    values = [(each.fan, wording.with_interval(each.value, *_ends(each), found.unit)) for each in shown]
    reviewed = next((each for each in shown if each.fan == fan), None)
    said = None
    if reviewed is not None:
        value = wording.with_interval(reviewed.value, *_ends(reviewed), found.unit)
        place = wording.rank_range(*reviewed.rank) if reviewed.rank else "without a rank, a legacy number,"
        said = (reviewed.fan, place, value)
    return wording.ranking_alt(what, values, tied, said, [each.fan for each in found.excluded])


def save(picture: Chart, folder: Path, name: str) -> tuple[Path, ...]:
    """Write a chart's files."""
    return draw(picture, folder, name)
