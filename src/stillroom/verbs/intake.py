"""Bringing things in: files, and a line in the log."""

from __future__ import annotations

from pathlib import Path

from stillroom import wording
from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.batch import Added
from stillroom.lab.intake import Ask, bring_in
from stillroom.records.acts import Event
from stillroom.records.bench import Rig
from stillroom.records.fields import as_json
from stillroom.store.journal import Note
from stillroom.store.lab import now, operator
from stillroom.verbs.doors import open_lab, settings_told
from stillroom.verbs.said import Said


def add(
    *paths: Path,
    as_: tuple[str, ...] = (),
    layout: str = "",
    save_layout: str = "",
    preview: bool = False,
    lab: Path | None = None,
    ask: Ask | None = None,
) -> Said:
    """Bring in folders, tables, rigs and measurement files. The originals are kept and never changed.

    Parameters
    ----------
    paths : files and folders.
    as_ : what the files don't say themselves, KEY=VALUE: unit:HEADER, column:HEADER, fan, sample, mounting,
        obstacle, duty, volts, speed, rig, names (a pattern), accuracy, sheet, delimiter, decimal, encoding.
    layout : a saved way of reading to start from.
    save_layout : keep what was told under this name.
    preview : only show what was understood; nothing is written.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    with open_lab(lab) as opened:
        added = bring_in(
            opened,
            paths,
            settings_told(as_),
            layout=layout,
            save_layout=save_layout,
            preview=preview,
            ask=ask,
        )
    return Said(_title(added, preview), lines=tuple(_lines(added)), data=_data(added))


def _title(added: Added, preview: bool) -> str:
    if preview:
        return f"Understood {wording.plural(len(added.understood), 'measurement file')}; nothing was written."
    if not (added.new or added.again or added.records):
        if added.known:
            return "Nothing changed: these bytes are in the lab already."
        return "Nothing changed."
    parts = [wording.plural(len(added.new), "new measurement file")]
    if added.again:
        parts.append(f"{len(added.again)} read anew")
    if added.known:
        parts.append(f"{len(added.known)} there already")
    return wording.sentence("added " + ", ".join(parts))


def _lines(added: Added) -> list[str]:
    lines = []
    if added.records:
        kinds = (f"{number} {kind}" for kind, number in added.records.items())
        lines.append("Records: " + ", ".join(kinds))
    if added.names:
        lines.append(f"Names: {added.names}")
    for file, words in added.understood.items():
        lines.append(file)
        lines += [f"    {each}" for each in words]
    lines += [f"Left out {file}: {why}" for file, why in added.left_out.items()]
    lines += [f"Mark: {each}" for each in added.marks]
    return lines


def _data(added: Added) -> dict[str, object]:
    return {
        "new": list(added.new),
        "read_anew": list(added.again),
        "already_there": list(added.known),
        "records": added.records,
        "left_out": added.left_out,
        "understood": {file: list(words) for file, words in added.understood.items()},
        "names": added.names,
        "marks": list(added.marks),
    }


def note(
    *text: str,
    rig: str = "",
    changes_results: bool = False,
    lab: Path | None = None,
) -> Said:
    """Write a line in the log, such as "coolant topped up".

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
        if rig and rig not in (known := opened.current(Rig)):
            raise UnknownThing("rig", found=repr(rig), expected=", ".join(known) or "a rig in a TOML file")
        opened.write([Note(Event.kind, event.name, as_json(event))])
    return Said(f"Noted at {event.time}: {words}", data={"event": as_json(event)})
