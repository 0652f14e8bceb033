"""A run as it was found right after it came in: one word, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from stillroom.lab.book import Placed
from stillroom.quality import Finding

ABOUT_RECORDS = frozenset(
    {1, 2, 3, 4, 5, 9, 14, 15, 16, 17, 18, 25, 31, 33, 39, 40, 42, 43, 45, 46, 48, 49, 50}
)
"""Rules whose marks are about what is on record, not about the run: they don't change its word."""


class Word(StrEnum):
    """The one word for a run."""

    AGREES = "agrees"
    FIRST = "first"
    LOOK = "look"
    STOP = "stop"


@dataclass(frozen=True)
class Checked:
    """A run as it was found right after it came in.

    Parameters
    ----------
    placed : the run. word, reason : what is to be said of it. findings : those that nobody has decided.
    away : how far it lies from what it was compared with, relative to the greatest pressure [1], of sound [dB]; 0
    without.
    """

    placed: Placed
    word: Word
    reason: str
    findings: tuple[Finding, ...] = ()
    away: float = 0.0

    @property
    def what(self) -> str:
        """The run as people name it: fan, sample, setting and direction, or the obstacle."""
        each = self.placed
        if each.is_obstacle:
            return f"obstacle {each.obstacle}" if each.obstacle else "an obstacle"
        if each.is_heat and not each.fan:
            return " ".join(filter(None, ("bath" if each.is_bath else "log beside", each.rig)))
        in_time = each.is_sound or each.is_heat or each.is_control
        setting = each.setting_word or ("" if in_time else "no setting told")
        words = [each.fan, each.sample, setting, each.recording or each.direction, f"through {each.obstacle}"]
        return " ".join(word for word in words[: 5 if each.obstacle else 4] if word)

    @property
    def line(self) -> str:
        """File, what it is, the word and the reason."""
        return f"{self.placed.taken.words}  {self.what}: {self.word.value}: {self.reason}"

    @property
    def advice(self) -> str:
        """What to do about it at the rig: the one-minute test of the finding that gave the word; else ""."""
        told = telling(self.findings)
        if not told or self.word not in (Word.STOP, Word.LOOK):
            return ""
        return f"finding {told[0].id}" + (f": {told[0].test}" if told[0].test else "")

    def as_dict(self) -> dict[str, object]:
        """The same as data."""
        each = self.placed
        return {
            "run": each.run, "file": each.taken.file, "part": each.taken.part, "fan": each.fan,
            "sample": each.sample, "mounting": each.mounting, "obstacle": each.obstacle, "rig": each.rig,
            "setting": each.setting_word, "direction": each.direction, "word": self.word.value,
            "reason": self.reason, "findings": [one.as_dict() for one in self.findings],
        }  # fmt: skip


def telling(own: Sequence[Finding]) -> list[Finding]:
    """The findings that change a run's word: what blocks first."""
    blocking = [each for each in own if each.blocks]
    return blocking or [each for each in own if each.rule not in ABOUT_RECORDS]


def by_findings(own: Sequence[Finding]) -> tuple[Word | None, str]:
    """The word that findings give, and the first of them in short; None where they give none."""
    told = telling(own)
    if not told:
        return None, ""
    more = f" (and {len(told) - 1} more)" if len(told) > 1 else ""
    cause = f"; {told[0].cause}" if told[0].cause else ""
    return Word.STOP if told[0].blocks else Word.LOOK, f"{told[0].found}{cause}{more}"
