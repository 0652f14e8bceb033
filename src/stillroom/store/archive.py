"""What a backup holds: names of its members, the journal as lines, records as tables, words for a reader."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Mapping
from typing import Any

from stillroom import vocabulary
from stillroom.errors import LabDamaged
from stillroom.records.fields import Column, columns, table_header
from stillroom.store.journal import Entry

JOURNAL = "journal.jsonl"
ABOUT = "backup.json"
README = "README.txt"
RECORDS = "records/"
FORMAT = 1
"""Raised when a backup of another form is written."""

_TEXTS = ("time", "by", "kind", "name", "original", "chain")


def line_of(entry: Entry) -> str:
    """An entry as one line of JSON, floats by their shortest exact form."""
    told = {"sequence": entry.sequence} | {name: getattr(entry, name) for name in _TEXTS}
    return json.dumps(told | {"body": entry.body}, ensure_ascii=False, allow_nan=False) + "\n"


def entry_of(line: bytes, number: int) -> Entry:
    """An entry from its line.

    Raises
    ------
    LabDamaged : the line is no entry; its number is named.
    """
    try:
        told = json.loads(line.decode("utf-8"))
        body, sequence = told["body"], told["sequence"]
        texts = {name: told[name] for name in _TEXTS}
    except (ValueError, KeyError, TypeError, RecursionError):
        raise bad_line(number, "no entry of a journal") from None
    sound = isinstance(body, dict) and type(sequence) is int
    if not sound or not all(isinstance(each, str) for each in texts.values()):
        raise bad_line(number, "no entry of a journal")
    return Entry(sequence=sequence, body=body, **texts)


def bad_line(number: int, found: str) -> LabDamaged:
    """What is said of a line of the journal that isn't as it was written."""
    return LabDamaged(
        "backup", place=f"{JOURNAL}, line {number}", found=found, expected="the entry as it was written"
    )


def table_of(record: type[Any], records: Mapping[str, Any]) -> str:
    """Records of one kind as CSV, with the headers and units of the table that may be brought in."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(table_header(record))
    known = columns(record)
    for each in records.values():
        writer.writerow([_cell(column, getattr(each, column.field)) for column in known])
    return text.getvalue()


def _cell(column: Column, value: Any) -> str:
    if value is None:
        return ""
    if column.type == "names":
        return " + ".join(value)
    if column.type == "json":
        return json.dumps(value, sort_keys=True, ensure_ascii=False)
    if column.type == "yes-no":
        return "yes" if value else "no"
    if column.type == "number":
        shown = vocabulary.from_si(value, column.shown) if column.shown else value
        return f"{shown:.12g}"
    return str(value)


def readme(about: Mapping[str, Any], kinds: Mapping[str, int]) -> str:
    """How to read a backup by hand."""
    return "\n".join(_readme(about, kinds)) + "\n"


def _readme(about: Mapping[str, Any], kinds: Mapping[str, int]) -> Iterator[str]:
    yield f"Backup of the laboratory {about['name']!r}, made {about['made']}."
    yield ""
    yield "To get the lab back:  stillroom restore THIS-FILE NEW-FOLDER"
    yield "It checks every entry and every byte before the folder appears."
    yield ""
    yield "Everything here is plain and can be read without Stillroom:"
    yield ""
    yield "originals/DATE/NAME   the files as they were exported, byte for byte, under the day they came in."
    yield "releases/NAME         what was published, as it was frozen; manifest.json has the hash of every file."
    yield f"{JOURNAL}         all that was ever written, one JSON object a line, oldest first; UTF-8."
    yield "                      sequence  number of the entry, without gaps"
    yield "                      time, by  when, and who"
    yield "                      kind      what it is about (fan, sample, run, calibration, taken, ...)"
    yield "                      name      which one; a later entry of that kind and name replaces this one"
    yield "                      body      what was said of it; numbers in SI units"
    yield "                      original  the file (and the place in it) that it came from"
    yield "                      chain     SHA-256 that ties the entry to the one before it"
    yield '                      Kind "original": name is the SHA-256 of the file, original is where it lies.'
    yield '                      Kind "withdrawn": the record of that name, and of the kind in the body,'
    yield "                      is out of use; what was said of it stays readable."
    yield "lab.toml              the settings of the laboratory."
    yield "records/KIND.csv      what stands now, as tables with units; made from the journal, to be read."
    yield f"{ABOUT}           numbers by which a cut-off journal is noticed."
    yield ""
    yield f"Entries: {about['entries']}. Originals: {about['originals']}. Records that stand:"
    for kind, number in kinds.items():
        yield f"  {kind}: {number}"
    yield ""
    yield "The chain shows damage and slips of the hand. It is no signature: whoever can write this"
    yield "file could make another chain. Curves and rankings are worked out again, the same."
