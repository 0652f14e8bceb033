"""Sweeps as text the way other loggers write it: decimal commas, preambles, fixed widths, blocks, footers."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from statistics import fmean

from stillroom.demo.exports import NOZZLES, POINT, TEXTS, Column, Head, Sweep, cell, rows_of, save, value

_NUMBERED = Column(POINT, POINT, "", 0)


def write_semicolon(path: Path, sweep: Sweep) -> None:
    """Semicolons, decimal commas, Windows-1252 with its line ends, a line of units below the headers."""
    lines = [[each.words for each in sweep.columns], [each.unit for each in sweep.columns]]
    for number in range(len(sweep.rows)):
        lines.append([_comma(sweep, number, each) for each in sweep.columns])
    save(path, "".join(";".join(line) + "\r\n" for line in lines), "cp1252")


def write_utf16(path: Path, sweep: Sweep, head: Head) -> None:
    """UTF-16 with its mark, parted by tabs, below lines of key and value."""
    told = {
        "Instrument": "multi-nozzle chamber", "Operator": head.operator, "Date": f"{sweep.start:%d.%m.%Y}",
        "Fan": head.fan, "Sample": head.sample, "Comment": "zeros taken before the sweep",
    }  # fmt: skip
    lines = [[key, text] for key, text in (told | head.words).items()]
    lines += [[], [POINT, *(each.header for each in sweep.columns)]]
    for number in range(len(sweep.rows)):
        lines.append([str(number + 1), *(cell(sweep, number, each) for each in sweep.columns)])
    save(path, "".join("\t".join(line) + "\r\n" for line in lines), "utf-16")


def write_fixed(path: Path, sweep: Sweep, head: Head) -> None:
    """Columns of fixed width parted by blanks, thousands marks, the day's date the local way."""
    columns = (_NUMBERED, *sweep.columns)
    table = [
        [each.words.replace(" ", "_") for each in columns],
        [f"[{each.unit or '-'}]" for each in columns],
    ]
    for number in range(len(sweep.rows)):
        table.append([_marked(sweep, number, each) for each in columns])
    widths = [max(len(line[i]) for line in table) for i in range(len(columns))]
    lines = [f"# {head.fan} {head.sample}   {head.operator}   {sweep.start:%d.%m.%Y %H:%M}"]
    lines += [
        "  ".join(text.rjust(width) for text, width in zip(line, widths, strict=True)) for line in table
    ]
    save(path, "\n".join(lines) + "\n", "utf-8")


def write_blocks(path: Path, sweeps: Sequence[Sweep], head: Head) -> None:
    """All sweeps of a mounting one below the other, each with title, headers, and the means in its foot."""
    lines: list[str] = [f"{head.rig};{head.fan};{head.sample};{head.operator}", ""]
    for count, sweep in enumerate(sweeps, start=1):
        columns = (_NUMBERED, *sweep.columns)
        lines.append(f"Sweep {count} of {len(sweeps)}, {sweep.start:%d.%m.%Y %H:%M}")
        lines.append(";".join(each.header for each in columns))
        for number in range(len(sweep.rows)):
            lines.append(";".join(cell(sweep, number, each) for each in columns))
        lines += [_foot("Mean", fmean, sweep), _foot("Max", max, sweep), ""]
    save(path, "\n".join(lines) + "\n", "utf-8")


def write_long(path: Path, sweeps: Sequence[Sweep]) -> None:
    """All sweeps of a mounting in one table, with byte-order mark."""
    columns = (_NUMBERED, *sweeps[0].columns)
    lines = [",".join(each.header for each in columns)]
    lines += [",".join(cell(sweep, number, each) for each in columns) for sweep, number in rows_of(sweeps)]
    save(path, "\n".join(lines) + "\n", "utf-8-sig")


def _comma(sweep: Sweep, number: int, column: Column) -> str:
    text = cell(sweep, number, column)
    return text if column.quantity in TEXTS else text.replace(".", ",")


def _marked(sweep: Sweep, number: int, column: Column) -> str:
    """A reading with a mark between thousands."""
    if column.quantity in (*TEXTS, POINT):
        return cell(sweep, number, column)
    return f"{value(sweep.rows[number], column):,.{column.digits}f}"


def _foot(name: str, work_out: object, sweep: Sweep) -> str:
    assert callable(work_out)
    cells = [name]
    for each in sweep.columns:
        if each.quantity in (NOZZLES, "time"):
            cells.append("")
        else:
            cells.append(f"{work_out([value(row, each) for row in sweep.rows]):.{each.digits}f}")
    return ";".join(cells)
