"""A document as plain text, for mail and for a file that any editor opens."""

from __future__ import annotations

import textwrap

from stillroom.charts.fonts import clean
from stillroom.publish.document.blocks import (
    Block,
    Bullets,
    Callout,
    Document,
    Figure,
    Formula,
    Grid,
    Heading,
    PageBreak,
    Paragraph,
    Text,
    callout_look,
    spans,
)

LINE = 88
UNDERLINES = "=-"


def as_text(document: Document) -> str:
    """A document as text in lines of at most 88 letters (tables and addresses may be longer).

    Headings are underlined, tables set in columns, or as "header: cell" where a row is longer than a line;
    pictures stand as their alt texts. No control characters.
    """
    head = [
        _underlined(document.title, "="),
        *([document.subtitle] if document.subtitle else []),
        document.date,
    ]
    parts = ["\n".join(clean_lines(each) for each in head)]
    parts += [made for each in document.blocks if (made := _block(each))]
    parts += [clean(document.footer)] if document.footer else []
    return "\n\n".join(parts) + "\n"


def clean_lines(words: str) -> str:
    """Words without control characters but their line ends."""
    return "\n".join(clean(each) for each in words.split("\n"))


def _underlined(words: str, mark: str) -> str:
    said = clean(words)
    return f"{said}\n{mark * min(len(said), LINE)}"


def _said(text: Text) -> str:
    """A text with the addresses to which it leads behind their words."""
    return "".join(
        each.text + (f" ({each.link})" if each.link and not each.link.startswith("#") else "")
        for each in spans(text)
    )


def _wrapped(words: str, first: str = "", rest: str = "") -> str:
    return textwrap.fill(
        clean(words),
        LINE,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _block(block: Block) -> str:
    match block:
        case Heading():
            return _heading(block)
        case Paragraph():
            return _wrapped(_said(block.text))
        case Bullets():
            return "\n".join(_wrapped(_said(each), "- ", "  ") for each in block.items)
        case Grid():
            return _grid(block)
        case Formula():
            return _formula(block)
        case Figure():
            return _figure(block)
        case Callout():
            word, _ = callout_look(block.kind)
            return _wrapped(f"{word}: {_said(block.text)}", "! ", "! ")
        case PageBreak():
            return ""


def _heading(block: Heading) -> str:
    if block.level <= len(UNDERLINES):
        return _underlined(block.text, UNDERLINES[block.level - 1])
    return clean(block.text)


def _grid(block: Grid) -> str:
    rows = [tuple(clean(_said(cell)) for cell in row) for row in block.rows]
    headers = tuple(map(clean, block.headers))
    widths = [max(map(len, column)) for column in zip(headers, *rows, strict=True)]
    is_wide = sum(widths) + 2 * (len(widths) - 1) > LINE
    lines = [clean(block.caption)] if block.caption else []
    lines += _as_lists(headers, rows) if is_wide else _in_columns(headers, rows, widths, block.right)
    lines += [_wrapped(_said(each)) for each in block.notes]
    return "\n".join(lines)


def _in_columns(
    headers: tuple[str, ...], rows: list[tuple[str, ...]], widths: list[int], right: tuple[int, ...]
) -> list[str]:
    def line(cells: tuple[str, ...]) -> str:
        set_cells = (
            each.rjust(width) if column in right else each.ljust(width)
            for column, (each, width) in enumerate(zip(cells, widths, strict=True))
        )
        return "  ".join(set_cells).rstrip()

    return [line(headers), "  ".join("-" * width for width in widths), *map(line, rows)]


def _as_lists(headers: tuple[str, ...], rows: list[tuple[str, ...]]) -> list[str]:
    lines = []
    for row in rows:
        told = [f"{header}: {cell}" for header, cell in zip(headers, row, strict=True) if cell]
        lines += [_wrapped(each, "- " if at == 0 else "  ", "    ") for at, each in enumerate(told)]
    return lines


def _formula(block: Formula) -> str:
    where = [
        f"    {clean(symbol)}: {clean(meaning)}" + (f" [{clean(unit)}]" if unit else "")
        for symbol, meaning, unit in block.where
    ]
    source = [_wrapped(f"Source: {block.source}", "  ", "  ")] if block.source else []
    return "\n".join([f"  {clean(block.plain)}", *where, *source])


def _figure(block: Figure) -> str:
    return "\n".join(
        [_wrapped(f"[Picture: {block.alt}]"), *([_wrapped(block.caption)] if block.caption else [])]
    )
