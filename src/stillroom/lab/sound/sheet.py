"""A set list as a sheet of paper: what to set, room to write what was read, and the cautions."""

from __future__ import annotations

from stillroom.charts.fonts import FAMILY, REGULAR, STRONG, face
from stillroom.charts.marks import escaped
from stillroom.lab.sound.cautions import CAUTIONS, HEADER
from stillroom.lab.sound.set_list import SetList
from stillroom.lab.sound.set_words import interval_words, setting_cell, speed_words, telling

COLUMNS = ("fan", "limit", "speed to set", "95 %", "setting", "speed read", "done", "words")

STYLE = """
@page{size:A4 landscape;margin:14mm}
body{margin:0 auto;max-width:66rem;padding:1rem;background:#FBFAF7;color:#1E2430;font:400 15px/1.4 'FAMILY',sans-serif}
h1{font:600 1.5rem/1.2 'FAMILY',sans-serif;margin:0 0 .3rem}
p{margin:0 0 .6rem}
.rule{border:1.5px solid #1E2430;padding:.5rem .75rem;font-weight:600}
table{border-collapse:collapse;width:100%;margin:.8rem 0}
th,td{text-align:left;font-weight:400;vertical-align:top;padding:.45rem .6rem .45rem 0;border-bottom:1px solid #D9D5CC}
thead th{font-weight:600;border-bottom-color:#1E2430}
thead{display:table-header-group}
tr{break-inside:avoid}
.set{font:600 1.15rem/1.3 'FAMILY',sans-serif;white-space:nowrap}
.write{min-width:6rem;border-bottom:1.5px solid #1E2430}
.box{display:inline-block;width:1.1rem;height:1.1rem;border:1.5px solid #1E2430}
ol{margin:.4rem 0 0;padding-left:1.4rem;font-size:.85rem;columns:2;column-gap:2rem}
li{break-inside:avoid;margin:0 0 .3rem}
@media print{body{background:#fff;padding:0;max-width:none;font-size:11pt}}
""".replace("FAMILY", FAMILY).strip()


def sheet(found: SetList, lab: str, rig: str, day: str) -> str:
    """The sheet as one HTML page that needs nothing else: for the screen, and for printing.

    Parameters
    ----------
    lab, rig : names; rig "" where none is told. day : ISO 8601.
    """
    title = "Set list" + (f" for {rig}" if rig else "")
    told = ", ".join(f"{name} {value}" for name, value in found.conditions.items() if value)
    head = "".join(f"<th>{escaped(each)}</th>" for each in COLUMNS)
    rows = "".join(_row(found, at) for at in range(len(found.rows)))
    cautions = "".join(f"<li><b>{escaped(each.about)}:</b> {escaped(each.words)}</li>" for each in CAUTIONS)
    body = (
        f"<h1>{escaped(title)}</h1><p>{escaped(lab)} · {escaped(day)} · {escaped(told)}</p>"
        f'<p class="rule">{escaped(HEADER)}</p>'
        f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
        "<p>Set the speed, not the duty: the duty is where to begin. Read the speed once it is steady, write it down."
        " Drive through a band to avoid, don’t stay in it.</p>"
        f"<ol>{cautions}</ol>"
    )
    letters = body + title
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'; font-src data:\">"
        f"<title>{escaped(title)}</title>"
        f"<style>{face(REGULAR, letters)}{face(STRONG, letters)}{STYLE}</style></head><body>{body}</body></html>\n"
    )


def _row(found: SetList, at: int) -> str:
    row = found.rows[at]
    first = at == 0 or found.rows[at - 1].fan != row.fan
    cells = [
        escaped(row.fan) if first else "",
        escaped(row.limit),
        f'<span class="set">{escaped(speed_words(row))}</span>',
        escaped(interval_words(row)),
        f'<span class="set">{escaped(setting_cell(row))}</span>',
        '<div class="write">&nbsp;</div>' if row.speed is not None else "",
        '<span class="box"></span>' if row.speed is not None else "",
        escaped("; ".join(telling(row))),
    ]
    return "<tr>" + "".join(f"<td>{each}</td>" for each in cells) + "</tr>"
