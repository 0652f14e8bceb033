"""Ways to put a finding of a test of the control: about one table, or about a mounting."""

from __future__ import annotations

from stillroom.quality.control.facts import ControlledMounting, TableFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity

BLOCKS, MARKS = Severity.BLOCKS, Severity.MARKS


def about_table(
    rule: int,
    table: TableFacts,
    mounting: ControlledMounting,
    found: str,
    expected: str,
    *,
    severity: Severity = BLOCKS,
    cause: str = "",
    test: str = "",
    common: str = "",
    what: str = "",
) -> Finding:
    """A finding of one table; `what` tells several of one rule apart.

    Its key is the table's own, so that a decision can exclude it.
    """
    blocked = (mounting.blocked_as,) if severity is BLOCKS else ()
    return Finding(rule, table.subject, table.key, severity, found, expected, cause, test, table.file,
                   (mounting.fan,), blocked, common=common, what=what)  # fmt: skip


def about_control(
    rule: int,
    mounting: ControlledMounting,
    found: str,
    expected: str,
    *,
    severity: Severity = MARKS,
    cause: str = "",
    test: str = "",
    common: str = "",
    what: str = "",
) -> Finding:
    """A finding of one mounting's control; `what` tells several of one rule apart.

    Its key is the mounting's own, so that a decision can exclude it.
    """
    place = mounting.tables[0].file if mounting.tables else ""
    blocked = (mounting.blocked_as,) if severity is BLOCKS else ()
    return Finding(rule, mounting.subject, mounting.judged, severity, found, expected, cause, test, place,
                   (mounting.fan,), blocked, common=common, what=what)  # fmt: skip


def setting_words(control: str, value: float) -> str:
    """A duty or a voltage in words."""
    return f"{value:g} V" if control == "volts" else f"{100 * value:g} %"
