"""Writing a line in the lab's log."""

from __future__ import annotations

from pathlib import Path

from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.book import Book, open_book, place_all
from stillroom.lab.eras.bridge_advice import new_eras
from stillroom.lab.eras.rigs_by_date import rig_names
from stillroom.records.acts import Event
from stillroom.records.fields import as_json
from stillroom.store.journal import Note
from stillroom.store.lab import now, operator
from stillroom.verbs.doors import open_lab
from stillroom.verbs.said import Said

NO_RIGS = "no --rig in a lab without rigs, or first a rigs file with it (docs/rigs.md)"


def note(
    *text: str,
    rig: str = "",
    changes_results: bool = False,
    lab: Path | None = None,
) -> Said:
    """Write a line in the log, such as "coolant topped up"; "swap" says that a fan was fitted anew.

    Parameters
    ----------
    text : the words.
    rig : the rig that it concerns.
    changes_results : it can move results (a seal changed, a gauge swapped): a new era of the rig begins.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    words = " ".join(text).strip()
    if not words:
        raise BadInput("note", found="no words", expected='a line such as stillroom note "seal changed"')
    event = Event(time=now(), text=words, rig=rig or None, changes_results=changes_results, by=operator())
    with open_lab(lab) as opened:
        if rig and rig not in (known := _rigs(open_book(opened))):
            raise UnknownThing("rig", found=repr(rig), expected=", ".join(known) or NO_RIGS)
        opened.write([Note(Event.kind, event.name, as_json(event))])
        began = new_eras(open_book(opened), event)
    lines = tuple(line for each in began for line in each.lines)
    data = {"event": as_json(event), "eras": [each.as_dict() for each in began]}
    return Said(f"Noted at {event.time}: {words}", lines=lines, data=data)


def _rigs(book: Book) -> list[str]:
    """The rigs that have a record, and those that runs were told to be from."""
    return sorted({*rig_names(book.rigs), *(each.rig for each in place_all(book) if each.rig)})
