"""Ways of reading that a lab keeps: saved under a name, shared as a file, proposed for files of one shape."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from stillroom.errors import BadInput, Contradiction, StillroomError, UnknownThing, UnreadableFile
from stillroom.lab.book import Book
from stillroom.lab.intake.batch import Ask, File
from stillroom.readers.layout import Layout
from stillroom.readers.meaning.understanding import FileUnderstanding, Understanding, understand
from stillroom.readers.reading.recording import fits, read
from stillroom.readers.source import Source
from stillroom.readers.toml import parse_toml
from stillroom.readers.words.kinds import kind_of
from stillroom.records.acts import SavedLayout
from stillroom.store.files import write_bytes

REMEMBERED = "names"
"""The name under which the lab keeps what names of files mean: no layout may take it."""

_HEAD = "# A way of reading measurement files, saved by Stillroom: `stillroom add FILE` keeps it in a lab,\n" \
        "# `stillroom add … --layout FILE` reads by it.\n"  # fmt: skip


def is_file(name: str) -> bool:
    """Whether a layout was named as a file rather than by its name in the lab."""
    return name.casefold().endswith(".toml")


def chosen(book: Book, name: str) -> SavedLayout:
    """The layout that was asked for, from the lab or from a shared file.

    Raises
    ------
    UnknownThing : the lab has none of that name. BadInput : the file is none of a layout.
    """
    if is_file(name):
        return shared(Source.of_path(Path(name)))
    known = {each.layout: each for each in book.layouts.values() if each.layout != REMEMBERED}
    if name not in known:
        raise UnknownThing("layout", found=repr(name), expected=", ".join(known) or "a saved layout")
    return known[name]


def saved(name: str, tables: Sequence[Mapping[str, Any]], reading: Mapping[str, str]) -> SavedLayout:
    """A layout to keep under a name.

    Raises
    ------
    BadInput : a name that is no name, or is kept for something else.
    """
    if not name.strip() or name == REMEMBERED or "/" in name or "\\" in name:
        raise BadInput("--save-layout", found=repr(name), expected="a name such as duct-rig, or FILE.toml")
    return SavedLayout(layout=name, reading=dict(reading), tables=[dict(each) for each in tables] or None)


def layouts_in(record: SavedLayout) -> tuple[Layout, ...]:
    """The layouts of a saved layout's tables; empty where it only keeps what was told.

    Raises
    ------
    BadInput : a layout that can't be read, as one of a later version.
    """
    return tuple(Layout.from_dict(each, f"layout {record.layout}") for each in record.tables or ())


def strictly(file: File, record: SavedLayout) -> FileUnderstanding:
    """A file as a saved layout reads it: headers and units have to be as the layout says.

    Raises
    ------
    StillroomError : the file differs; says in which line and column. Contradiction : it has more tables.
    """
    blocks = []
    for layout in layouts_in(record):
        recording = read(file.source, layout)
        words = (f"{recording.kind.value}, read by layout {record.layout}",)
        blocks.append(Understanding(layout, kind_of(layout.headers, file.name), recording.notes, words))
    count = _tables_in(file, record)
    if count > len(blocks):
        raise Contradiction(
            "tables",
            place=file.name,
            found=f"{count} with measurements",
            expected=f"{len(blocks)}, as in layout {record.layout}",
        )
    return FileUnderstanding(tuple(blocks))


def _tables_in(file: File, record: SavedLayout) -> int:
    """How many tables with measurements a file holds, understood as the layout names its columns; 0 where that
    can't be told without the layout.
    """
    told: dict[str, str] = {}
    for layout in layouts_in(record):
        for column in layout.columns:
            if column.header:
                told[f"column:{column.header}"] = column.quantity or "none"
            if column.header and column.unit:
                told[f"unit:{column.header}"] = column.unit
    try:
        return len(understand(file.source, told).blocks)
    except StillroomError:
        return 0


def fitting(records: Iterable[SavedLayout], file: File, ask: Ask | None) -> SavedLayout | None:
    """The saved layout whose shape a file has, None where there is none.

    Raises
    ------
    BadInput : two fit that read it otherwise, and nobody was there to choose.
    """
    found = [
        each
        for each in records
        if each.tables
        and all(fits(file.source, layout) for layout in layouts_in(each))
        and _tables_in(file, each) <= len(each.tables)
    ]
    most = max((len(each.tables or ()) for each in found), default=0)
    found = [each for each in found if len(each.tables or ()) == most]
    meanings = {json.dumps([_meaning(one) for one in layouts_in(each)]) for each in found}
    if len(meanings) > 1:
        return _choice(file, found, ask)
    return found[0] if found else None


def _meaning(layout: Layout) -> list[tuple[str, str, str]]:
    return [(each.header, each.quantity, each.unit) for each in layout.columns]


def _choice(file: File, found: Sequence[SavedLayout], ask: Ask | None) -> SavedLayout:
    names = {each.layout: each for each in found}
    both = " and ".join(names)
    answer = ask(f"{file.name} fits the layouts {both}. By which is it read?").strip() if ask else ""
    if answer in names:
        return names[answer]
    raise BadInput(
        "layout",
        place=file.name,
        found=f"{both}, which both fit",
        expected=" or ".join(f"--layout {each}" for each in names),
    )


def write_shared(path: Path, tables: Sequence[Mapping[str, Any]]) -> None:
    """Write layouts as a file that another lab can add or read by."""
    lines = [_HEAD, f"name = {json.dumps(path.stem, ensure_ascii=False)}\n"]
    for each in tables:
        layout = Layout.from_dict(each)
        text = layout.to_toml().replace("[[columns]]", "[[layout.columns]]")
        lines.append(f"\n[[layout]]\n{text}")
    write_bytes(path, "".join(lines).encode())


def is_shared(source: Source) -> bool:
    """Whether a TOML file holds a layout (and no rigs)."""
    try:
        return isinstance(_told(source).get("layout"), list)
    except UnreadableFile:
        return False


def _told(source: Source) -> dict[str, object]:
    return parse_toml(source.text("utf-8-sig").replace("\r\n", "\n"), "layout", source.name)


def shared(source: Source) -> SavedLayout:
    """The layout that a shared file holds.

    Raises
    ------
    UnreadableFile : it isn't TOML. BadInput : it holds no layout, or a wrong one.
    """
    told = _told(source)
    tables = told.get("layout", [told] if "columns" in told else [])
    name = told.get("name") or Path(source.name).stem
    if not isinstance(tables, list) or not tables or not isinstance(name, str):
        raise BadInput(
            "layout", place=source.name, found="no table [[layout]]", expected="a file of --save-layout FILE"
        )
    plain = [Layout.from_dict(each, source.name).to_dict() for each in tables if isinstance(each, Mapping)]
    return saved(name, plain, {})
