"""Versions of an obstacle: a cleaned radiator, another filter of the same kind.

A version is named `obstacle@version`. The bare name means the version in force on a run's day; in a question it
means the latest version that was measured. Versions are never mixed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from stillroom.records.bench import Obstacle
from stillroom.vocabulary import plain

AT = "@"

FREE_AIR = frozenset(
    {"none", "no", "no obstacle", "free", "free air", "open", "bare", "without", "-", "ohne", "kein", "frei", "sans",
     "aucun", "libre"}
)  # fmt: skip
"""Words (compared by `plain`) by which names and notes say that nothing stood before the fan."""


def is_free_air(name: str, obstacles: Mapping[str, Obstacle]) -> bool:
    """Whether what is told as an obstacle's name says that there was none; the lab's own names come first."""
    words = plain(name) or name.strip()
    return words in FREE_AIR and not is_among(name, names_of(obstacles))


def versioned(obstacle: str, version: str | None) -> str:
    """The name of one version of an obstacle."""
    return f"{obstacle}{AT}{version}" if version else obstacle


def bare(name: str) -> str:
    """An obstacle's name without its version."""
    return name.partition(AT)[0]


def records_of(obstacles: Mapping[str, Obstacle], name: str) -> list[Obstacle]:
    """The records of all versions of an obstacle, in the order in which they came, one for each version."""
    found = {each.version: each for each in obstacles.values() if each.obstacle == bare(name)}
    return list(found.values())


def in_force(obstacles: Mapping[str, Obstacle], name: str, date: str) -> str:
    """The obstacle and version that a run means.

    Parameters
    ----------
    obstacles : the lab's records. name : as the run tells it, with its version or without.
    date : of the run, as ISO text.

    Returns
    -------
    `obstacle@version`: what is told, else the version that was the latest on that day by the told dates; where
    no version has a date, the first that came in, so that a later one doesn't change what was measured before.
    The bare name where no version is known.
    """
    if not name or AT in name:
        return name
    versions = [each for each in records_of(obstacles, name) if each.version]
    if not versions:
        return name
    dated = sorted((each for each in versions if each.date), key=lambda each: each.date or "")
    before = [each for each in dated if (each.date or "") <= date]
    chosen = before[-1] if before else dated[0] if dated else versions[0]
    return versioned(name, chosen.version)


def latest(arrivals: Mapping[str, str], obstacles: Mapping[str, Obstacle], name: str) -> str:
    """Which of the measured versions a question means.

    Parameters
    ----------
    arrivals : {version's name: when it came in, as ISO text} of those that were measured.
    obstacles : the lab's records. name : as asked for.

    Returns
    -------
    The name itself where it was measured or tells its version; else the version of the latest told date, of
    those without a date the one that came last, of those that came at once the one of the highest number; ""
    where none was measured, or none of several is the latest (`last_versions`).
    """
    found = last_versions(arrivals, obstacles, name)
    return found[0] if len(found) == 1 else ""


def last_versions(arrivals: Mapping[str, str], obstacles: Mapping[str, Obstacle], name: str) -> list[str]:
    """The version that `latest` means, or all that have the same claim to it; as there."""
    if name in arrivals or AT in name:
        return [name] if name in arrivals else []
    dates = {versioned(each.obstacle, each.version): each.date or "" for each in obstacles.values()}
    versions = {each: (dates.get(each, ""), arrivals[each]) for each in arrivals if bare(each) == name}
    last = [each for each, when in versions.items() if when == max(versions.values())]
    numbers = [each.partition(AT)[2] for each in last]
    if len(last) > 1 and all(each.isdecimal() for each in numbers):
        return [max(last, key=lambda each: int(each.partition(AT)[2]))]
    return last


def record_of(obstacles: Mapping[str, Obstacle], name: str) -> Obstacle | None:
    """The record of one version by its full name, or of the bare name's last version; None where there is none."""
    told = name.partition(AT)[2] or None
    records = records_of(obstacles, name)
    return next((each for each in reversed(records) if told is None or each.version == told), None)


def names_of(obstacles: Mapping[str, Obstacle]) -> list[str]:
    """All names by which a run can mean an obstacle: with and without its version."""
    return list(dict.fromkeys(name for each in obstacles.values() for name in (each.obstacle, each.name)))


def is_among(name: str, names: Iterable[str]) -> bool:
    """Whether an obstacle is named, with or without its version."""
    told = set(names)
    return name in told or bare(name) in told
