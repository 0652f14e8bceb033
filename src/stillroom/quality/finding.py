"""What a finding is."""

from __future__ import annotations

import hashlib
import re
from dataclasses import asdict, dataclass
from typing import Any

from stillroom.quality.rules import BY_NUMBER, Severity
from stillroom.records.keys import key_of

_NUMBERS = re.compile(r"[-−+]?\d+(?:[.,]\d+)*(?:e-?\d+)?")
_HYPHEN = re.compile(r"(?<![^\s(])-(?=\d[\d.,]*(?:[\s);,]|$))")
"""A hyphen before a number that stands for a minus; not one within a name, a date or a range."""
_OPTIONAL = ("cause", "test", "place", "through", "common", "what")


@dataclass(frozen=True)
class Finding:
    """One thing that a person should look at.

    Parameters
    ----------
    rule : number of the rule. subject : "run:<sha>", "mounting:<name>", "fan:<name>" …
    key : what was judged; a decision lapses when it moves. Of a run or a mounting it is that thing's own, for an
    exclusion is looked up by it. severity : of this finding.
    place : file and line where that is sensible. found, expected : in words.
    cause : the probable cause, or "". test : a one-minute test at the rig, or "".
    fans : the fans whose numbers hang on it. mountings : the mountings that it blocks while it is open.
    through : the obstacle, where only what goes through it hangs on the finding; else "".
    common : what findings of one cause have in common, in words; else "".
    what : tells several findings of one rule and key apart; else "".
    """

    rule: int
    subject: str
    key: str
    severity: Severity
    found: str
    expected: str
    cause: str = ""
    test: str = ""
    place: str = ""
    fans: tuple[str, ...] = ()
    mountings: tuple[str, ...] = ()
    through: str = ""
    common: str = ""
    what: str = ""

    def __post_init__(self) -> None:
        for name in ("found", "expected", "cause"):
            object.__setattr__(self, name, _HYPHEN.sub("−", getattr(self, name)))

    @property
    def id(self) -> str:
        """Eight digits that name it: the same rule, subject, judged data and `what` give the same."""
        key = key_of("run", self.key, self.what) if self.what else self.key
        text = f"{self.rule}\n{self.subject}\n{key}"
        return hashlib.sha256(text.encode()).hexdigest()[:8]

    @property
    def title(self) -> str:
        """The rule in words."""
        return BY_NUMBER[self.rule].title

    @property
    def name(self) -> str:
        """The rule's short name."""
        return BY_NUMBER[self.rule].name

    @property
    def source(self) -> str:
        """Where the rule comes from."""
        return BY_NUMBER[self.rule].source

    @property
    def blocks(self) -> bool:
        """Whether it stops publication until it is decided."""
        return self.severity is Severity.BLOCKS

    @property
    def actions(self) -> tuple[str, ...]:
        """What can be decided: only a run or a mounting can be excluded."""
        can = self.subject.startswith(("run:", "mounting:"))
        return ("accept", "repeat", "exclude") if can else ("accept", "repeat")

    @property
    def pattern(self) -> tuple[int, str, str]:
        """What findings of one cause share: rule, severity and the cause without its numbers."""
        return self.rule, self.severity.value, self.common or _NUMBERS.sub("#", self.cause)

    def as_dict(self) -> dict[str, Any]:
        """As a JSON object."""
        told = asdict(self) | {"severity": self.severity.value}
        told |= {"fans": list(self.fans), "mountings": list(self.mountings)}
        return {"id": self.id, "name": self.name, "title": self.title} | told | {"source": self.source}

    @classmethod
    def from_dict(cls, told: dict[str, Any]) -> Finding:
        """From what `as_dict` gave."""
        return cls(
            **{name: told[name] for name in ("rule", "subject", "key", "found", "expected", *_OPTIONAL)},
            severity=Severity(told["severity"]),
            fans=tuple(told["fans"]),
            mountings=tuple(told["mountings"]),
        )
