"""Series and words for the charts, taken from finished results; the charts room only draws them."""

from __future__ import annotations

from pathlib import Path

from stillroom import wording
from stillroom.charts.draw import draw
from stillroom.charts.further_series import Chart
from stillroom.charts.series import Bar, RankedBars
from stillroom.charts.series import Bound as DrawnBound
from stillroom.compare.candidates import Bound
from stillroom.compare.standing import Ranking, Standing
from stillroom.core.multiple import Merit
from stillroom.errors import UnknownThing
from stillroom.lab import versions
from stillroom.lab.book import Book
from stillroom.lab.curve_pictures import collapse, curves
from stillroom.lab.picture_words import footer, plain_name
from stillroom.measures import Measure
from stillroom.records.settings import Settings

__all__ = ["bars", "collapse", "curves", "ranking_words", "save"]


def condition_words(found: Ranking) -> str:
    """Where a ranking holds, as a sentence begins."""
    obstacle, speed = found.conditions["obstacle"], found.conditions["speed"]
    words = f"through {obstacle}" if obstacle else "in free air" if "airflow" in found.measure else ""
    at = f"at {speed}" if speed != "full setting" else "at full speed"
    said = f"{words} {at}".strip()
    return said[0].upper() + said[1:]


def ranking_words(found: Ranking, measure: Measure) -> str:
    """The finding of a ranking in one sentence."""
    total = len(found.standings)
    return wording.sentence(wording.ranking_title(found.best, total, condition_words(found), measure.claim))


def bars(
    settings: Settings, found: Ranking, measure: Measure, fan: str, fans: int, through: str = ""
) -> tuple[RankedBars, str]:
    """Ranked bars of a ranking, and the name of their files; `through` describes the obstacle.

    Raises
    ------
    UnknownThing : the fan under review isn't in the ranking.
    """
    names = [each.fan for each in found.standings]
    if fan and fan not in names:
        raise UnknownThing("fan", found=repr(fan), expected=", ".join(names) or "a fan that can be ranked")
    shown = list(found.standings[:fans])
    if fan and fan not in [each.fan for each in shown]:
        shown[-1] = next(each for each in found.standings if each.fan == fan)
    left = len(found.standings) - len(shown)
    tied = [each.fan for each in shown if each.fan in found.best]
    unit = found.unit
    picture = RankedBars(
        title=ranking_words(found, measure).rstrip("."),
        subtitle=f"{measure.title}{f' through {through}' if through else ''}, {unit}, at 1.2 kg/m³"
        + (f", {found.conditions['size']} fans" if found.conditions["size"] else "")
        + (f"; {left} more not shown" if left else ""),
        cue=wording.direction_cue(larger_is_better=measure.merit is Merit.MORE),
        footer=footer(settings, f"{measure.name} {found.version}", _basis(shown)) + _assumed(shown),
        unit=unit,
        bars=tuple(_bar(each, len(found.best), each.fan in found.best, each.fan == fan) for each in shown),
        excluded=tuple((each.fan, each.why) for each in found.excluded),
        alt=_alt(found, measure, shown, tied, fan),
        measure=measure.title,
    )
    return picture, plain_name(
        measure.name, str(found.conditions["obstacle"] or ""), str(found.conditions["speed"])
    )


def _basis(shown: list[Standing]) -> str:
    samples, mountings = sum(each.samples for each in shown), sum(each.mountings for each in shown)
    return f"{wording.plural(samples, 'sample')}, {wording.plural(mountings, 'mounting')}, lines show 95 %"


def _bar(each: Standing, tied: int, best: bool, accent: bool) -> Bar:
    note = ", ".join(_notes(each))
    return Bar(
        label=each.fan,
        value=max(0.0, each.value),
        low=max(0.0, each.low),
        high=max(0.0, each.high),
        mark_word=wording.mark_for(tied) if best else "",
        is_leader_tied=best,
        note=note,
        accent=accent,
        bound={Bound.AT_LEAST: DrawnBound.AT_LEAST, Bound.AT_MOST: DrawnBound.AT_MOST}.get(
            each.bound, DrawnBound.NONE
        ),
    )


ON_THE_BAR = ("not unique", "on a rising branch", "extrapolated", "open finding")
"""The marks that a reader of a chart must see; the others stand in the table."""


ASSUMED = ("bench accuracy not told", "air not recorded", "stated bench accuracy")
"""The marks that stand under a chart, with the fans that they concern."""


def _assumed(shown: list[Standing]) -> str:
    """What had to be assumed, and for whom, as it stands in the footer."""
    parts = []
    for word in ASSUMED:
        fans = [each.fan for each in shown if any(mark.startswith(word) for mark in each.marks)]
        whom = "all" if len(fans) == len(shown) else wording.listed(fans, most=4)
        parts += [f"{word}: {whom}"] if fans else []
    return "".join(f" · {each}" for each in parts)


def _notes(each: Standing) -> list[str]:
    words = [] if each.samples > 1 else ["1 sample"]
    return words + [mark for mark in each.marks if mark in ON_THE_BAR]


def _alt(found: Ranking, measure: Measure, shown: list[Standing], tied: list[str], fan: str) -> str:
    what = f"{measure.title.lower()} {condition_words(found).lower()}"
    values = [
        (each.fan, wording.with_interval(each.value, each.low, each.high, found.unit)) for each in shown
    ]
    reviewed = next((each for each in shown if each.fan == fan), None)
    said = None
    if reviewed is not None:
        value = wording.with_interval(reviewed.value, reviewed.low, reviewed.high, found.unit)
        said = (reviewed.fan, wording.rank_range(*reviewed.rank), value)
    return wording.ranking_alt(what, values, tied, said, [each.fan for each in found.excluded])


def described(book: Book, obstacle: str) -> str:
    """An obstacle in words: its description and its short name with the version."""
    record = versions.record_of(book.obstacles, obstacle)
    if record is None or not record.description:
        return obstacle
    return f"{record.description} ({obstacle}{f' {record.version}' if record.version else ''})"


def save(picture: Chart, folder: Path, name: str) -> tuple[Path, ...]:
    """Write a chart's files."""
    return draw(picture, folder, name)
