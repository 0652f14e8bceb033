"""Rules of quality for tests of the control."""

from stillroom.quality.control.checking import VERSION, check_control
from stillroom.quality.control.facts import ControlledFan, ControlledMounting, TableFacts

__all__ = ["VERSION", "ControlledFan", "ControlledMounting", "TableFacts", "check_control"]
