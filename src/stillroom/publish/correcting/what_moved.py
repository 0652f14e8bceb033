"""What moved since a release was frozen: everything it says, beside what the lab says now."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from stillroom.compare.standing import Ranking
from stillroom.errors import LabDamaged
from stillroom.lab.compared import compared
from stillroom.publish.account import Kind, account_of
from stillroom.publish.as_data import as_data
from stillroom.publish.contents import Contents, Published
from stillroom.publish.correcting.comparing import Then, compare_measure
from stillroom.publish.correcting.gathering import Again
from stillroom.publish.correcting.moved import MeasureMoved, Moved, SentenceMoved
from stillroom.publish.correcting.pieces import charts_moved, documents_moved
from stillroom.publish.correcting.sentences import sentences_moved
from stillroom.publish.correcting.stale import what_changed
from stillroom.publish.methodology import changes_between, methodology_of
from stillroom.publish.release import Release
from stillroom.records.publishing import Frozen
from stillroom.store.releases import NOTICE, wrong_in

DOCUMENTS = "documents"


def what_moved(again: Again, release: Release) -> Moved:
    """Compare a frozen release with what the lab says now.

    Parameters
    ----------
    again : what the same release would say now (`gathered_again`).

    Raises
    ------
    LabDamaged : what the release keeps of its numbers can't be read.
    """
    contents = again.contents
    measures = tuple(_measure(contents, release, again.gone, each) for each in release.measures)
    unknown = _unknown(again, measures)
    sentences = _sentences(contents, release, unknown)
    charts = charts_moved(_charts(release, unknown), measures)
    files = [path for path in release.manifest if path != NOTICE]
    documents = documents_moved(files, measures, sentences, _method_lines(contents, release, unknown))
    return Moved(
        release=release.name,
        frozen=release.date,
        date=contents.date,
        lab=contents.settings.name,
        changes=what_changed(contents.lab, contents.book, contents.whole.graph, release),
        measures=measures,
        sentences=sentences,
        charts=charts,
        documents=documents,
        unknown=tuple(unknown),
        damage=_damage(contents, release),
    )


def _measure(
    contents: Contents, release: Release, gone: dict[str, str], told: dict[str, str]
) -> MeasureMoved:
    slug, title, words = (str(told[each]) for each in ("slug", "title", "words"))
    try:
        then = Then(slug, title, release.standings(slug), release.trials(slug))
    except LabDamaged as error:
        return MeasureMoved(slug, title, "", gone=f"its old numbers can't be read ({error})")
    now = next((each for each in contents.published if each.words == words), None)
    if now is None:
        return MeasureMoved(
            slug, title, str(then.ranking["unit"]), gone=gone.get(words, "it is not measured any more")
        )
    return compare_measure(then, now.ranking, _among(contents, now, then))


def _among(contents: Contents, now: Published, then: Then) -> Ranking:
    """The ranking of the fans alone that the release knew, where others are new since."""
    ranked = {each.fan for each in now.ranking.standings}
    here = ranked | {each.fan for each in now.ranking.excluded}
    known = tuple(each for each in then.fans if each in here)
    if not known or ranked <= set(then.fans):
        return now.ranking
    return compared(contents.whole, replace(now.asked, only=known)).ranking


def _unknown(again: Again, measures: tuple[MeasureMoved, ...]) -> list[str]:
    """What can't be compared any more, and why."""
    said = [f"{each.title}: {each.gone}" for each in measures if each.gone]
    if again.highlight_gone:
        said.append(f"{again.highlight_gone}, the fan under review, has no value in any measure now")
    for measure in measures:
        without = {each.why for each in measure.fans if each.difference and each.difference.low is None}
        said += [f"{measure.title}: {why}" for why in sorted(without) if why]
    return said


def _sentences(contents: Contents, release: Release, unknown: list[str]) -> tuple[SentenceMoved, ...]:
    """What the account says no more; what can't be read of the old one is told in `unknown`."""
    if f"{DOCUMENTS}/account.json" not in release.manifest:
        return ()
    try:
        then = list(release.account()["sentences"])
    except (LabDamaged, KeyError) as error:
        unknown.append(f"sentences of the account: {error}")
        return ()
    now = [each.as_dict() for each in account_of(contents).sentences if each.kind is not Kind.OPEN]
    return sentences_moved(then, now)  # an open finding stops a publication: no release says it


def _charts(release: Release, unknown: list[str]) -> list[dict[str, Any]]:
    if "charts/charts.json" not in release.manifest:
        return []
    try:
        return release.charts()
    except (LabDamaged, KeyError) as error:
        unknown.append(f"charts: {error}")
        return []


def _method_lines(contents: Contents, release: Release, unknown: list[str]) -> int:
    """How many lines of the methodology read otherwise now."""
    if f"{DOCUMENTS}/methodology.json" not in release.manifest:
        return 0
    try:
        found = changes_between(release.methodology(), as_data(methodology_of(contents)))
    except LabDamaged as error:
        unknown.append(f"methodology: {error}")
        return 0
    return len(found.changed) + len(found.added) + len(found.removed)


def _damage(contents: Contents, release: Release) -> tuple[str, ...]:
    """Files of the release that are not as they were written, by its manifest and by the journal's hash of that."""
    record = contents.lab.current(Frozen).get(release.name)
    return tuple(wrong_in(release.folder, record.manifest if record else ""))
