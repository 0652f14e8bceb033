"""Making entries of a lab in tests."""

from __future__ import annotations

from stillroom.records.fields import as_json
from stillroom.store import journal, originals
from stillroom.store.journal import Note
from stillroom.store.lab import Lab


def note(record: object, original: str = "") -> Note:
    return Note(record.kind, record.name, as_json(record), original)  # type: ignore[attr-defined]


def keep(lab: Lab, data: bytes, name: str, date: str = "2026-03-02") -> Note:
    """Keep bytes as an original; the note that has to be written of it."""
    place = originals.keep(lab.path, data, name, date)
    return Note(journal.ORIGINAL, originals.digest_of(data), {"file": name, "bytes": len(data)}, place)
