"""Rules of quality: each looks at facts and says what a person should look at."""

from stillroom.quality.checking import VERSION, check_fan, check_instruments
from stillroom.quality.finding import Finding
from stillroom.quality.rules import RULES, Rule, Severity

__all__ = ["RULES", "VERSION", "Finding", "Rule", "Severity", "check_fan", "check_instruments"]
