"""What names of recordings say that a pattern for dwells doesn't fit: of ramps, backgrounds and calibrators.

"fan-07/s1/ramp-up" has no duty where "fan-07/s1/60pct" has one; what was recorded is taken off the name, and the rest
read by the same pattern without its setting.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from stillroom.errors import StillroomError
from stillroom.lab.intake.patterns import NamesRead, PatternsOfLab, Said, said_by
from stillroom.readers.paths.names import SETTINGS, Pattern, without_suffix
from stillroom.readers.words.recordings import recorded_in_name

_WITHOUT = (SETTINGS, SETTINGS | {"obstacle"})


def read_recordings(
    of_lab: PatternsOfLab, found: NamesRead, names: Sequence[str], needed: Sequence[str]
) -> NamesRead:
    """What names that tell what was recorded say besides.

    Parameters
    ----------
    of_lab : the patterns. found : what was read of other names, and by which patterns.
    names : of the recordings. needed : those of them that have to tell a fan.

    Raises
    ------
    BadInput : no pattern fits, and none can be inferred, or nobody confirmed it.
    """
    said = {name: fitting for name in names if (fitting := _fitting(name, found)) is not None}
    bare = {_bare(name): name for name in needed if name not in said}
    if not bare:
        return replace(found, said=found.said | said)
    inferred = of_lab.read(list(bare), list(bare))
    said |= {bare[name]: told for name, told in inferred.said.items()}
    bad = {bare[name]: error for name, error in inferred.bad.items()}
    return NamesRead(
        found.said | said,
        found.bad | bad,
        found.words or inferred.words,
        inferred.remember or found.remember,
        (*found.patterns, *inferred.patterns),
    )


def _bare(name: str) -> str:
    """A name without what it says was recorded; the folder's where nothing else is left."""
    folder, _, last = without_suffix(name).rpartition("/")
    named = recorded_in_name(last)
    rest = last if named is None else named.rest
    return "/".join(each for each in (folder, rest) if each) or last


def _fitting(name: str, found: NamesRead) -> Said | None:
    """What the pattern of most folders that fits a name says of it; None where none does."""
    for pattern in sorted(found.patterns, key=lambda each: -each.text.count("/")):
        for each, text in _attempts(pattern, name, _depth(pattern, found.said)):
            try:
                return said_by(each, text)
            except StillroomError:
                continue
    return None


def _attempts(pattern: Pattern, name: str, above: int) -> Iterator[tuple[Pattern, str]]:
    """The pattern, whole and shorter, with what of the name it is to fit."""
    if "recording" in pattern.fields:
        yield pattern, name
    bare = _bare(name)
    own = bare.split("/")[above:] if above >= 0 else bare.split("/")
    if "recording" not in pattern.fields and len(own) == pattern.text.count("/") + 1:
        yield pattern, bare
    for fields in _WITHOUT:
        shorter = pattern.without(fields)
        fits = shorter is not None and (above < 0 or len(own) == shorter.text.count("/") + 1)
        if shorter is not None and fits:
            yield shorter, bare


def _depth(pattern: Pattern, read: Iterable[str]) -> int:
    """How many folders lie above those that a pattern speaks of, in the names that it has read; -1 where unknown."""
    parts = pattern.text.count("/") + 1
    depths = {name.count("/") + 1 - parts for name in read}
    return depths.pop() if len(depths) == 1 and min(depths) >= 0 else -1
