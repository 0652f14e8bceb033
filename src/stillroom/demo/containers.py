"""Workbooks written by hand: the smallest XLSX and ODS that hold several sheets, merged cells and dates.

Layout of the parts after ECMA-376 (5th edition), parts 1 and 2, and after the OpenDocument format 1.3, part 3;
both from memory. The same sheets give the same bytes: every part carries the same old date.
"""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

Value = str | float | int | date | datetime | None
_EPOCH = datetime(1899, 12, 30)
_OLD = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True)
class Sheet:
    """A sheet: its name, its cells by row, and (row, last column) of cells merged from column A, from 0."""

    name: str
    rows: Sequence[Sequence[Value]]
    merged: tuple[tuple[int, int], ...] = ()


def write_xlsx(path: Path, sheets: Sequence[Sheet]) -> None:
    """Write a workbook as XLSX."""
    numbered = list(enumerate(sheets, start=1))
    main = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    types = "".join(
        f'<Override PartName="/xl/worksheets/sheet{i}.xml" ContentType="{main}.worksheet+xml"/>'
        for i, _ in numbered
    )
    listed = "".join(f'<sheet name={quoteattr(s.name)} sheetId="{i}" r:id="rId{i}"/>' for i, s in numbered)
    links = "".join(_link(f"rId{i}", "worksheet", f"worksheets/sheet{i}.xml") for i, _ in numbered)
    parts = {
        "[Content_Types].xml": '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{main}.sheet.main+xml"/>'
        f'<Override PartName="/xl/styles.xml" ContentType="{main}.styles+xml"/>{types}</Types>',
        "_rels/.rels": _links(_link("rId1", "officeDocument", "xl/workbook.xml")),
        "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_RELATED}">'
        f"<sheets>{listed}</sheets></workbook>",
        "xl/_rels/workbook.xml.rels": _links(links + _link(f"rId{len(sheets) + 1}", "styles", "styles.xml")),
        "xl/styles.xml": _STYLES,
    }
    parts |= {f"xl/worksheets/sheet{i}.xml": _xlsx_sheet(sheet) for i, sheet in numbered}
    _zip(path, {name: _XML + text for name, text in parts.items()})


def write_ods(path: Path, sheets: Sequence[Sheet]) -> None:
    """Write a workbook as ODS."""
    names = " ".join(
        f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{short}:1.0"' for short in _SPACES
    )
    tables = "".join(_ods_sheet(each) for each in sheets)
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    listed = "urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"
    entries = "".join(
        f'<manifest:file-entry manifest:full-path="{name}" manifest:media-type="{what}"/>'
        for name, what in (("/", kind), ("content.xml", "text/xml"))
    )
    _zip(
        path,
        {
            "mimetype": kind,
            "content.xml": f'{_XML}<office:document-content {names} office:version="1.3"><office:body>'
            f"<office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>",
            "META-INF/manifest.xml": f'{_XML}<manifest:manifest xmlns:manifest="{listed}"'
            f' manifest:version="1.3">{entries}</manifest:manifest>',
        },
    )


_XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_RELATED = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_SPACES = ("office", "table", "text")
_STYLES = (
    f'<styleSheet xmlns="{_MAIN}"><fonts count="1"><font/></fonts><fills count="1"><fill/></fills>'
    '<borders count="1"><border/></borders><cellStyleXfs count="1"><xf/></cellStyleXfs><cellXfs count="3">'
    '<xf numFmtId="0"/><xf numFmtId="14" applyNumberFormat="1"/><xf numFmtId="22" applyNumberFormat="1"/>'
    "</cellXfs></styleSheet>"
)
_DAY, _MOMENT = 1, 2
"""Places of the two formats for dates in the list of styles."""


def _link(name: str, kind: str, target: str) -> str:
    return f'<Relationship Id="{name}" Type="{_RELATED}/{kind}" Target="{target}"/>'


def _links(inside: str) -> str:
    space = "http://schemas.openxmlformats.org/package/2006/relationships"
    return f'<Relationships xmlns="{space}">{inside}</Relationships>'


def _xlsx_sheet(sheet: Sheet) -> str:
    rows = []
    for number, cells in enumerate(sheet.rows, start=1):
        inside = "".join(_xlsx_cell(f"{_letters(i)}{number}", each) for i, each in enumerate(cells))
        rows.append(f'<row r="{number}">{inside}</row>')
    spans = [f'<mergeCell ref="A{row + 1}:{_letters(last)}{row + 1}"/>' for row, last in sheet.merged]
    merged = f'<mergeCells count="{len(spans)}">{"".join(spans)}</mergeCells>' if spans else ""
    return f'<worksheet xmlns="{_MAIN}"><sheetData>{"".join(rows)}</sheetData>{merged}</worksheet>'


def _xlsx_cell(place: str, value: Value) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, str):
        return f'<c r="{place}" t="inlineStr"><is><t>{escape(value)}</t></is></c>'
    if isinstance(value, datetime):
        days = (value - _EPOCH).total_seconds() / 86400
        return f'<c r="{place}" s="{_MOMENT}"><v>{days!r}</v></c>'
    if isinstance(value, date):
        return f'<c r="{place}" s="{_DAY}"><v>{(value - _EPOCH.date()).days}</v></c>'
    return f'<c r="{place}"><v>{value!r}</v></c>'


def _letters(column: int) -> str:
    return (chr(64 + column // 26) if column >= 26 else "") + chr(65 + column % 26)


def _ods_sheet(sheet: Sheet) -> str:
    spans = dict(sheet.merged)
    rows = []
    for number, cells in enumerate(sheet.rows):
        last = spans.get(number, 0)
        inside = [_ods_cell(each, last + 1 if last and i == 0 else 1) for i, each in enumerate(cells)]
        if last:
            inside = [inside[0], f'<table:covered-table-cell table:number-columns-repeated="{last}"/>']
        rows.append(f"<table:table-row>{''.join(inside)}</table:table-row>")
    return f"<table:table table:name={quoteattr(sheet.name)}>{''.join(rows)}</table:table>"


def _ods_cell(value: Value, wide: int) -> str:
    span = f' table:number-columns-spanned="{wide}" table:number-rows-spanned="1"' if wide > 1 else ""
    if value is None or value == "":
        return f"<table:table-cell{span}/>"
    if isinstance(value, str):
        told, shown = 'office:value-type="string"', value
    elif isinstance(value, date):
        told, shown = f'office:value-type="date" office:date-value="{value.isoformat()}"', f"{value:%d.%m.%Y}"
    else:
        told, shown = f'office:value-type="float" office:value="{value!r}"', f"{value}"
    return f"<table:table-cell {told}{span}><text:p>{escape(shown)}</text:p></table:table-cell>"


def _zip(path: Path, parts: dict[str, str]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(path, "w") as archive:
        for name, text in parts.items():
            entry = zipfile.ZipInfo(name, _OLD)
            entry.compress_type = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            archive.writestr(entry, text.encode("utf-8"))
