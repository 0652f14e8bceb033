"""What is said of files that came in: words and data."""

from __future__ import annotations

from stillroom import wording
from stillroom.lab.batch import Added
from stillroom.verbs.said import BAD_INPUT, DONE, Said

MOST_FILES = 40
"""So many files are listed one by one; the data always hold all."""


def said_of(added: Added, *, preview: bool = False) -> Said:
    """The answer of `add`; bad input where a file could not come in."""
    return Said(
        _title(added, preview),
        lines=tuple(_lines(added)),
        data=_data(added),
        code=BAD_INPUT if added.bad else DONE,
    )


def _title(added: Added, preview: bool) -> str:
    bad = f"; {wording.plural(len(added.bad), 'bad file')} not added" if added.bad else ""
    if preview:
        count = wording.plural(len(added.parts), "measurement file")
        return f"Understood {count}; nothing was written{bad}."
    if not added.changed:
        known = " these bytes are in the lab already" if added.known and not added.bad else ""
        return f"Nothing changed{':' if known else ''}{known}{bad}."
    parts = [wording.plural(len(added.new), "new measurement file")]
    if added.again:
        parts.append(f"{len(added.again)} read anew")
    if added.known:
        parts.append(f"{len(added.known)} there already")
    return wording.sentence("added " + ", ".join(parts) + bad)


def _lines(added: Added) -> list[str]:
    lines = [f"Bad: {each.sentence()}" for each in added.bad]
    if added.records:
        kinds = (f"{number} {kind}" for kind, number in added.records.items())
        lines.append("Records: " + ", ".join(kinds))
    if added.names:
        lines.append(f"Names: {added.names}")
    for file, words in added.understood.items():
        lines.append(file)
        lines += [f"    {each}" for each in words]
    runs = [f"    {file}: {each}" for file, several in added.parts.items() for each in several]
    lines += ["Runs:"] * bool(runs) + _shortened(runs)
    lines += _shortened([f"Read anew {each}" for each in added.again if "(" in each])
    lines += _layouts(added)
    lines += _shortened([f"Left out {file}: {why}" for file, why in added.left_out.items()])
    return lines + [f"Mark: {each}" for each in added.marks]


def _layouts(added: Added) -> list[str]:
    """Which files were read by a layout that the lab had kept."""
    by_name: dict[str, list[str]] = {}
    for file, name in added.by_layout.items():
        by_name.setdefault(name, []).append(file)
    return [
        f"{files[0]}{f' and {len(files) - 1} more' if len(files) > 1 else ''}: read by layout {name}, as before"
        for name, files in by_name.items()
    ]


def _shortened(lines: list[str]) -> list[str]:
    if len(lines) <= MOST_FILES:
        return lines
    return [*lines[:MOST_FILES], f"    and {len(lines) - MOST_FILES} more"]


def _data(added: Added) -> dict[str, object]:
    data: dict[str, object] = {
        "new": list(added.new),
        "read_anew": list(added.again),
        "already_there": list(added.known),
        "records": added.records,
        "left_out": added.left_out,
        "understood": {file: list(words) for file, words in added.understood.items()},
        "parts": {file: list(words) for file, words in added.parts.items()},
        "names": added.names,
        "by_layout": added.by_layout,
        "marks": list(added.marks),
        "runs": list(added.runs),
    }
    if added.bad:
        data["errors"] = [each.as_dict()["error"] for each in added.bad]
    return data
