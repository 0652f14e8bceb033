"""The words at the bars of a ranking: as many as have room, whole; what has none stands beneath."""

from __future__ import annotations

from stillroom import wording
from stillroom.charts import marks
from stillroom.charts.fonts import ELLIPSIS, REGULAR, STRONG, width, wrapped
from stillroom.charts.layout import Page
from stillroom.charts.series import Bar, RankedBars

WORD_SHARE = 0.36
SEPARATOR, NOTES = " · ", ", "


def mark_room(page: Page) -> float:
    """How far names stand in, to leave room for the mark of those tied with the leader."""
    return (1.35 if page.stacked else 1.05) * page.label


def word_room(bar: Bar, page: Page, room: float) -> float:
    """How wide the words at a bar may be; on a narrow page what the name leaves, half of the room at least."""
    if not page.stacked:
        return WORD_SHARE * room
    weight = STRONG if bar.is_leader_tied or bar.accent else REGULAR
    name = width(marks.named(bar.label), page.label, weight)
    return max(0.5 * room, room - mark_room(page) - name - page.small)


def fitted_word(bar: Bar, size: float, room: float) -> str:
    """A bar's mark and as many of its notes as have room, whole; an ellipsis stands for those that it leaves out."""
    count = _fitting(bar, size, room)
    if count is not None:
        return _said(bar, count)
    return wrapped(_said(bar, len(_notes(bar))), size, REGULAR, room, 1)[0]


def _notes(bar: Bar) -> list[str]:
    return bar.note.split(NOTES) if bar.note else []


def _said(bar: Bar, count: int) -> str:
    """The mark and the first notes."""
    notes = _notes(bar)
    said = SEPARATOR.join(each for each in (bar.mark_word, NOTES.join(notes[:count])) if each)
    return f"{said} {ELLIPSIS}" if count < len(notes) else said


def _fitting(bar: Bar, size: float, room: float) -> int | None:
    """How many notes have room beside the mark; None where not even the first words have."""
    least = 0 if bar.mark_word or not bar.note else 1
    for count in range(len(_notes(bar)), least - 1, -1):
        if width(_said(bar, count), size) <= room:
            return count
    return None


def bars_notes(chart: RankedBars, page: Page) -> tuple[str, ...]:
    """The fans that can't be ranked, in words, those with one reason in one sentence; what bars have no room for;
    then the chart's own notes.
    """
    reasons: dict[str, list[str]] = {}
    for name, why in chart.excluded:
        reasons.setdefault(why, []).append(name)
    said = [
        f"{wording.listed(names)} ({why})" if why else wording.listed(names) for why, names in reasons.items()
    ]
    gone = [f"{wording.isolate(bar.label)}: {left}" for bar in chart.bars if (left := _left_out(bar, page))]
    return (
        *((f"Not ranked: {'; '.join(said)}.",) if said else ()),
        *((wording.stopped("; ".join(gone)),) if gone else ()),
        *chart.notes,
    )


def _left_out(bar: Bar, page: Page) -> str:
    """The notes of a bar that have no room at it."""
    count = _fitting(bar, page.small, word_room(bar, page, page.width - 2 * page.margin))
    return "" if count is None else NOTES.join(_notes(bar)[count:])
