"""What moved since a release was frozen: everything it says, beside what the lab says now."""

from __future__ import annotations

from dataclasses import replace

from stillroom.compare.standing import Ranking
from stillroom.errors import LabDamaged
from stillroom.lab.compared import compared
from stillroom.publish.contents import Contents, Published
from stillroom.publish.correcting.comparing import Then, compare_measure
from stillroom.publish.correcting.gathering import Again
from stillroom.publish.correcting.moved import MeasureMoved, Moved
from stillroom.publish.correcting.stale import what_changed
from stillroom.publish.release import Release


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
    return Moved(
        release=release.name,
        frozen=release.date,
        date=contents.date,
        lab=contents.settings.name,
        changes=what_changed(contents.lab, contents.book, contents.whole.graph, release),
        measures=measures,
        unknown=tuple(_unknown(again, measures)),
        damage=release.wrong(),
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
