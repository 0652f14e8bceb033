"""What a row no longer tells of a thing that an earlier row told: a row replaces the row of the same name."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from stillroom import wording
from stillroom.records.fields import as_json, columns
from stillroom.store.lab import Lab


def emptied(lab: Lab, records: Iterable[tuple[Any, str, str]]) -> list[str]:
    """A line for each file and set of cells that are empty from now on and were told before.

    Parameters
    ----------
    records : those that come in, each with its file and place; of no file, where the lab itself writes them.
    """
    standing: dict[str, dict[str, Any]] = {}
    found: dict[tuple[str, str, tuple[str, ...]], list[str]] = {}
    for record, file, _ in records:
        before = standing.setdefault(record.kind, lab.current(type(record))).get(record.name)
        if before is None or not file:
            continue
        gone = as_json(before).keys() - as_json(record).keys()
        headers = tuple(each.header for each in columns(type(record)) if each.field in gone)
        if headers:
            found.setdefault((file, record.kind, headers), []).append(record.name)
    return [
        f"{file}: {wording.listed(headers, most=6)} of {kind} {wording.listed(names, most=3)} "
        "told before, and not in this table: empty from now on, since a row replaces the row of the same name"
        for (file, kind, headers), names in found.items()
    ]
