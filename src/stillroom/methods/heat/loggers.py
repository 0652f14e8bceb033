"""Files that one logger wrote one after the other: where it renews its file, each is a piece of one record."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

PAUSE = 600.0
"""A logger that renews its file begins the next one sooner than this [s] (our choice)."""

SHARED = 1.0
"""Two files of one logger share no more than this [s]: a last reading written twice, a time kept to the second."""

_NUMBERED = re.compile(r"[ ._-]+\(?\d{1,3}\)?$|\(\d{1,3}\)$")


@dataclass(frozen=True)
class Stretch:
    """One file of a logger, as far as it tells whose it is.

    Parameters
    ----------
    file : its name. channels : that it holds, without the time. logger : as it is told, else "".
    offset : told, to be added to its times [s]. first, last : readings by its own clock [s], None where it tells none.
    """

    file: str
    channels: frozenset[str]
    first: float | None
    last: float | None
    logger: str = ""
    offset: float | None = None

    def goes_on(self, before: Stretch) -> bool:
        """Whether it can be what the same logger wrote after another file."""
        same = (self.channels, self.logger, self.offset) == (before.channels, before.logger, before.offset)
        if not same or self.first is None or before.first is None or before.last is None:
            return False
        return self.first > before.first and -SHARED <= self.first - before.last < PAUSE

    def overlaps(self, other: Stretch) -> bool:
        """Whether both were written at once, longer than two files of one logger may be."""
        if self.first is None or self.last is None or other.first is None or other.last is None:
            return False
        return min(self.last, other.last) - max(self.first, other.first) > SHARED


def plain_name(file: str) -> str:
    """The name of a file without its folder, its ending and a number behind: "log" of "day/log (2).csv"."""
    stem = PurePosixPath(file).stem
    return _NUMBERED.sub("", stem) or stem


def loggers_of(files: Sequence[Stretch]) -> list[int]:
    """The number of the logger of each file: files of the same channels that follow each other have one.

    Files that overlap in time are of two loggers. Where two loggers of the same channels renew their files at once, the
    names tell which goes on with which; where they don't, each file keeps a logger of its own.

    Parameters
    ----------
    files : of one rig, and of one session or one mounting.
    """
    chains: list[list[int]] = []
    found = [0] * len(files)
    for at in sorted(range(len(files)), key=lambda at: (files[at].first or 0.0, files[at].file)):
        number = _chain_of(at, files, chains)
        if number is None:
            number = len(chains)
            chains.append([])
        chains[number].append(at)
        found[at] = number
    return found


def _chain_of(at: int, files: Sequence[Stretch], chains: Sequence[Sequence[int]]) -> int | None:
    """The chain that a file goes on with; None where there is none, or where it isn't sure which."""
    own = files[at]
    before = {
        number: files[chain[-1]] for number, chain in enumerate(chains) if own.goes_on(files[chain[-1]])
    }
    rivals = [
        each
        for other, each in enumerate(files)
        if other != at and each.overlaps(own) and any(each.goes_on(one) for one in before.values())
    ]
    if len(before) > 1 or rivals:
        name = plain_name(own.file)
        before = {number: each for number, each in before.items() if plain_name(each.file) == name}
        if any(plain_name(each.file) == name for each in rivals):
            return None
    return next(iter(before)) if len(before) == 1 else None
