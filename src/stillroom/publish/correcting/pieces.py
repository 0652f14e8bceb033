"""Which files of a release show what is not so any more: its charts, tables and documents."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import PurePosixPath
from typing import Any

from stillroom import wording
from stillroom.publish.correcting.moved import MeasureMoved, PieceMoved, SentenceMoved

MOST_NAMED = 5


def charts_moved(
    then: Sequence[Mapping[str, Any]],
    now: Mapping[str, tuple[str, str]],
    gone: Mapping[str, str],
    measures: Sequence[MeasureMoved],
) -> tuple[PieceMoved, ...]:
    """The charts of a release that show what is not so any more.

    Parameters
    ----------
    then : as charts/charts.json lists them, each with the digest of what it shows. now : {name: (digest, title)} as
    they would be drawn. gone : {name: why it can't be drawn any more}.
    """
    by_slug = {each.slug: each for each in measures}
    found = []
    for chart in then:
        name, title = str(chart["name"]), str(chart["title"])
        digest, new_title = now.get(name, ("", ""))
        if digest == chart.get("digest"):
            continue
        own = by_slug.get(str(chart.get("slug") or ""))
        if not digest:
            why = f"it can't be drawn any more: {gone.get(name, 'what it shows is gone')}"
        elif title != new_title:
            why = f"its title was “{title}”, and is “{new_title}” now"
        else:
            why = why_moved(own) if own is not None and own.is_moved else "what it shows moved"
        found.append(PieceMoved(name, why))
    return tuple(found)


def why_moved(measure: MeasureMoved) -> str:
    """In few words what moved in a measure."""
    if measure.gone:
        return f"the measure can't be had any more: {measure.gone}"
    fans = [each.fan for each in measure.moved]
    if measure.winner_changed:
        return (
            f"another verdict on who leads; {wording.listed(fans, most=MOST_NAMED)} moved"
            if fans
            else "who leads"
        )
    if fans:
        return f"{wording.listed(fans, most=MOST_NAMED)} moved"
    return " ".join(measure.notes) or "verdicts between fans moved"


def documents_moved(
    files: Sequence[str],
    measures: Sequence[MeasureMoved],
    sentences: Sequence[SentenceMoved],
    method: int,
) -> tuple[PieceMoved, ...]:
    """The tables and documents of a release that are not up to date.

    Parameters
    ----------
    files : paths of the release's manifest. method : how many lines of the methodology read otherwise now.
    """
    return tuple(
        PieceMoved(path, why)
        for path in files
        if (why := _why(PurePosixPath(path), measures, sentences, method))
    )


def _why(
    path: PurePosixPath,
    measures: Sequence[MeasureMoved],
    sentences: Sequence[SentenceMoved],
    method: int,
) -> str:
    moved = [each for each in measures if each.is_moved]
    any_moved = f"{wording.plural(len(moved), 'measure')} moved" if moved else ""
    if path.parts[0] == "standings":
        own = next((each for each in measures if each.slug == path.stem), None)
        return (why_moved(own) if own.is_moved else "") if own else any_moved
    if path.parts[0] == "data":
        return any_moved if path.name == "datapackage.json" else ""
    if path.parts[0] == "page":
        return any_moved if path.name == "index.html" else ""
    if path.parts[0] != "documents":
        return ""
    return _of_document(path, moved, sentences, method, any_moved)


def _of_document(
    path: PurePosixPath,
    moved: Sequence[MeasureMoved],
    sentences: Sequence[SentenceMoved],
    method: int,
    any_moved: str,
) -> str:
    said = f"{wording.plural(len(sentences), 'sentence')} moved" if sentences else ""
    if path.stem.startswith("fan-"):
        return any_moved and _of_fan(path.stem.removeprefix("fan-"), moved)
    about: dict[str, str] = {
        "account": said,
        "review": any_moved or said,
        "methodology": f"{wording.plural(method, 'line')} of it read otherwise now" if method else "",
    }
    return about.get(path.stem, "")


def _of_fan(written: str, moved: Sequence[MeasureMoved]) -> str:
    """Why a fan's card is not up to date; the fan by its name as files are named."""
    titles = [each.title for each in moved if any(_plain(one.fan) == _plain(written) for one in each.moved)]
    return f"{wording.listed(titles, most=MOST_NAMED)} moved" if titles else ""


def _plain(name: str) -> str:
    return "".join(each for each in name.casefold() if each.isalnum())
