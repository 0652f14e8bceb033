"""The channels of a log whose names tell nothing, so that somebody can be asked."""

from __future__ import annotations

from collections.abc import Mapping

from stillroom.readers.meaning.deciding import decide, possible
from stillroom.readers.meaning.found_tables import tables_of
from stillroom.readers.meaning.heat import unnamed
from stillroom.readers.meaning.wide import wide_tables
from stillroom.readers.source import Source
from stillroom.readers.words.headers import TIME, split_header, text_column_for
from stillroom.readers.words.kinds import SOUND_QUANTITIES, may_be_airflow


def unnamed_channels(source: Source, overrides: Mapping[str, str] | None = None) -> dict[str, str]:
    """The columns of a log that hold numbers and name no quantity: {header: dimension of its unit, "" without one}.

    Of a file that is no log of a heat rig there are none. Raises as `understand`, but for what is missing.
    """
    said = dict(overrides or {})
    if wide_tables(source, said):
        return {}
    found: dict[str, str] = {}
    for table in tables_of(source, said)[0]:
        names = possible(table.start.header)
        headers = [split_header(cell) for cell in table.start.header.cells]
        decided = decide(table.grid, table.start.header, table.start.units, table.rows, said)
        held = {each.column.quantity for each in decided} | {text_column_for(each.name) for each in headers}
        if TIME not in held or may_be_airflow(names) or held & SOUND_QUANTITIES:
            continue
        cells = [
            [row.cells[index] if index < len(row.cells) else "" for row in table.rows]
            for index in range(len(headers))
        ]
        found |= unnamed(headers, decided, cells)
    return found
