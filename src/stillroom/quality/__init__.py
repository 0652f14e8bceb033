"""Rules of quality: each looks at facts and says what a person should look at."""

from stillroom.quality.checking import (
    VERSION,
    check_boxes,
    check_fan,
    check_instruments,
    check_obstacle,
    check_rigs,
)
from stillroom.quality.copies import Print, check_copies, prints_of
from stillroom.quality.finding import Finding
from stillroom.quality.grouping import Group, grouped
from stillroom.quality.rigs import check_watch
from stillroom.quality.rules import RULES, Rule, Severity

__all__ = [
    "RULES",
    "VERSION",
    "Finding",
    "Group",
    "Print",
    "Rule",
    "Severity",
    "check_boxes",
    "check_copies",
    "check_fan",
    "check_instruments",
    "check_obstacle",
    "check_rigs",
    "check_watch",
    "grouped",
    "prints_of",
]
