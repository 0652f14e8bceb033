"""What a finding is, and the list of rules that make them."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass
from enum import Enum
from typing import Any


class Severity(Enum):
    """What a finding does to publication."""

    BLOCKS = "B"
    MARKS = "W"

    @property
    def words(self) -> str:
        """In words."""
        return "blocks" if self is Severity.BLOCKS else "mark"


@dataclass(frozen=True)
class Rule:
    """A rule of quality.

    Parameters
    ----------
    number : its number in the laboratory's list. name : short, for the command line. title : in words.
    severity : its usual severity; what is only absent marks, what contradicts itself blocks.
    limit : the threshold in words. source : where the rule comes from.
    """

    number: int
    name: str
    title: str
    severity: Severity
    limit: str
    source: str


B, W = Severity.BLOCKS, Severity.MARKS

RULES: tuple[Rule, ...] = (
    Rule(
        1, "sample-identity", "Sample unregistered, or under another sample's number", B,
        "no record of the sample marks; a mounting whose speeds at all settings lie within 0.4 % of another"
        " sample's and more than 1.2 % from its own sample's other mountings blocks",
        "ISO/IEC 17025, 7.4, item identification (from memory)",
    ),
    Rule(
        2, "calibration-due", "Instrument out of calibration at the time of the run", B,
        "past due on the date of the run; neither calibration nor accuracy marks",
        "ISO/IEC 17025, 6.4 and 6.5 (from memory)",
    ),
    Rule(
        4, "rig-event", "Mountings of one fan on both sides of an event that changes results", W,
        "any such event without a bridge", "common practice",
    ),
    Rule(
        20, "speed-disagrees", "Speed in whole or half multiples of what it should be", B,
        "ratio 0.5, 1.5, 2 or 3 within 1 % to the same sample (6 % to another sample or to the box);"
        " tachometer against optical more than 0.5 %",
        "4-wire PWM fan specification: 2 pulses per revolution",
    ),
    Rule(
        21, "supply-voltage", "Supply voltage of a 4-wire fan", B,
        "more than 0.1 V from 12 V at the connector marks, more than 5 % blocks",
        "4-wire PWM fan specification (± 5 %); tighter by common practice",
    ),
    Rule(
        22, "nozzle-window", "Pressure across the nozzles outside its window", B,
        "less than 25 Pa by more than 2 u; one or two points mark, more block",
        "AMCA and ASHRAE practice (from memory)",
    ),
    Rule(
        23, "nozzle-reynolds", "Nozzle below its Reynolds range", W,
        "Re below 12,000: the coefficient's uncertainty is widened",
        "ANSI/AMCA 210, validity of the nozzle coefficient (from memory)",
    ),
    Rule(
        24, "nozzle-pattern", "Points of one nozzle pattern leave the curve of the other mountings", B,
        "more than 1.5 % of flow", "common practice",
    ),
    Rule(
        25, "leak", "Flow is missing as a leak would take it", B,
        "more than 1 % of the greatest flow, growing with the root of pressure",
        "ANSI/AMCA 210, leak test (from memory)",
    ),
    Rule(
        28, "few-points", "Too few points on a curve, or badly placed", W,
        "fewer than 8 points; none within 10 % of an end; a gap of more than 15 % of the greatest flow",
        "common practice; ANSI/AMCA 210 leaves the number to the curve's shape",
    ),
    Rule(
        29, "collapse", "A sweep or point doesn't fall on the fan's one curve", B,
        "flow or pressure off by more than 3 %, or a sweep that the fit had to leave out", "fan laws",
    ),
    Rule(
        31, "air", "Air not recorded, or far from standard", W,
        "temperature, pressure or humidity missing; density more than 5 % from 1.2 kg/m³",
        "ANSI/AMCA 210 (from memory)",
    ),
    Rule(
        40, "mountings", "Mountings of a published figure", W,
        "fewer than 2", "common practice",
    ),
    Rule(
        41, "replicates", "Mountings of one sample disagree", B,
        "flow or pressure by more than 2.8 s_r (the repeatability limit) marks, by more than 5 s_r blocks;"
        " speeds at the same setting by more than 1 %",
        "ISO 5725-6 (from memory)",
    ),
    Rule(
        42, "box-claim", "Not within what the box claims", W,
        "free airflow, shut-off pressure or speed more than 10 % from the claim; before a failure is"
        " published it needs a second sample",
        "common practice",
    ),
    Rule(
        44, "impossible", "Physically impossible", B,
        "static efficiency above 45 %; power falling while the speed rises", "physics",
    ),
    Rule(48, "price", "Price without date or region", W, "either is missing", "common practice"),
    Rule(49, "claim-condition", "Claim without its condition", W,
         "no condition: the claim is not checkable", "fairness"),
)  # fmt: skip

_BY_NUMBER = {each.number: each for each in RULES}


@dataclass(frozen=True)
class Finding:
    """One thing that a person should look at.

    Parameters
    ----------
    rule : number of the rule. subject : "run:<sha>", "mounting:<name>", "fan:<name>" …
    key : what was judged; a decision lapses when it moves. severity : of this finding.
    place : file and line where that is sensible. found, expected : in words.
    cause : the probable cause, or "". test : a one-minute test at the rig, or "".
    fans : the fans whose numbers hang on it. mountings : the mountings that it blocks while it is open.
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

    @property
    def id(self) -> str:
        """Eight digits that name it: the same rule, subject and judged data give the same."""
        text = f"{self.rule}\n{self.subject}\n{self.key}"
        return hashlib.sha256(text.encode()).hexdigest()[:8]

    @property
    def title(self) -> str:
        """The rule in words."""
        return _BY_NUMBER[self.rule].title

    @property
    def name(self) -> str:
        """The rule's short name."""
        return _BY_NUMBER[self.rule].name

    @property
    def source(self) -> str:
        """Where the rule comes from."""
        return _BY_NUMBER[self.rule].source

    @property
    def blocks(self) -> bool:
        """Whether it stops publication until it is decided."""
        return self.severity is Severity.BLOCKS

    @property
    def actions(self) -> tuple[str, ...]:
        """What can be decided: only a run or a mounting can be excluded."""
        can = self.subject.startswith(("run:", "mounting:"))
        return ("accept", "repeat", "exclude") if can else ("accept", "repeat")

    def as_dict(self) -> dict[str, Any]:
        """As a JSON object."""
        told = asdict(self) | {"severity": self.severity.value}
        told |= {"fans": list(self.fans), "mountings": list(self.mountings)}
        return {"id": self.id, "name": self.name, "title": self.title} | told | {"source": self.source}

    @classmethod
    def from_dict(cls, told: dict[str, Any]) -> Finding:
        """From what `as_dict` gave."""
        names = ("rule", "subject", "key", "found", "expected", "cause", "test", "place")
        return cls(
            **{name: told[name] for name in names},
            severity=Severity(told["severity"]),
            fans=tuple(told["fans"]),
            mountings=tuple(told["mountings"]),
        )
