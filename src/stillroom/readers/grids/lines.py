"""What a line in or around a table is, other than a reading: footer, page mark, ruled line, note, title."""

from __future__ import annotations

import re
from collections.abc import Sequence

from stillroom.readers.words.headers import squeeze
from stillroom.readers.words.settings import setting_of, setting_of_note

FOOTERS = frozenset(
    squeeze(word)
    for word in (
        "mean", "average", "avg", "arithmetic mean", "mittelwert", "mittel", "durchschnitt", "moyenne", "moy",
        "media", "maximum", "max", "minimum", "min", "std", "stdev", "std dev", "stddev", "standard deviation",
        "standardabweichung", "stdabw", "std abw", "écart type", "ecart type", "sd", "median", "mediane",
        "médiane", "sum", "total", "summe", "gesamt", "somme", "count", "anzahl", "nombre", "range",
        "spannweite", "étendue", "variance", "varianz", "cv", "rms", "ø", "∅", "x̄",
    )
)  # fmt: skip
"""Words (squeezed) at the start of a line under a table that sums its readings up."""

ENDS = frozenset(
    squeeze(word)
    for word in (
        "end", "end of file", "end of data", "end of report", "end of measurement", "end of export", "eof",
        "ende", "dateiende", "ende der datei", "ende der messung", "fin", "fin du fichier", "fin de fichier",
    )
)  # fmt: skip
"""Words (squeezed) that close a file."""

REMARKS = frozenset(
    squeeze(word)
    for word in ("note", "notes", "remark", "remarks", "comment", "comments", "bemerkung", "kommentar", "hinweis",
                 "anmerkung", "remarque", "commentaire", "page", "seite", "printed", "gedruckt")
)  # fmt: skip
"""Keys of a "key: value" line that changes nothing about the readings below it."""

AND = " · "
"""What joins titles, and what one key is told to be in two ways."""

LONGEST = 200
"""Longest line of words that is looked into for a title."""

_ALARM = re.compile(
    r"\b(error|fault|alarm|warning|abort\w*|invalid|lost|fail\w*|overload|fehler|störung|warnung|abbruch|"
    r"abgebrochen|ungültig|erreur|défaut|alarme|interrompu|invalide)\b",
    re.IGNORECASE,
)
_RULE = frozenset("-=_*+.~#|─━═–— \t")
_PAGE = re.compile(
    r"[-–\f\s]*(page|seite|pagina|p\.|s\.)\s*:?\s*\d{1,4}(\s*(of|von|de|sur|/)\s*\d{1,4})?[-–\f\s]*|"
    r"[-–]\s*\d{1,4}\s*[-–]|\f+",
    re.IGNORECASE,
)
_COUNT = re.compile(r"n\s*[=:]\s*\d{1,7}", re.IGNORECASE)
_NOTE = re.compile(r"#?\s*(?P<key>[^:=]{1,60}?)\s*(?:[:=](?!\d)|(?<!\d)[:=])\s*(?P<value>.*)")
_TITLE = re.compile(
    r"\[\s*[^\]]*[^\W\d_][^\]]*\]|\[\s*\d[^\]]*\]|<[^<>]+>|\*{2,}.+\*{2,}|={2,}.+={2,}|-{2,}.+-{2,}"
)
_BRACKETED = re.compile(r"\[[^\[\]]*[^\W\d_][^\[\]]*\]")
_SERIES = re.compile(
    r"(sweep|run|test|series|curve|measurement|block|table|sample|fan|part|kennlinie|messreihe|messung|lauf|"
    r"prüfling|muster|lüfter|essai|série|mesure|courbe)\s*(no\.?|nr\.?|n°|#)?\s*[:=]?\s*"
    r"([\w.\-]{1,40}|\d{1,4}\s*((of|von|de|sur|/)\s*\d{1,4})?\s*([,;(@-]\s.*)?)",
    re.IGNORECASE,
)
_LETTER = re.compile(r"[^\W\d_]")


def filled(cells: Sequence[str]) -> list[str]:
    """The cells that hold something, without blanks around them."""
    return [text for cell in cells if (text := cell.strip())]


def is_rule(cells: Sequence[str]) -> bool:
    """Whether a line only draws a rule ("-----;-----")."""
    text = "".join(cells)
    return len(text) > 1 and not text.isspace() and set(text) <= _RULE and not set(text) <= set("#. ")


def is_page(text: str) -> bool:
    """Whether a line is a page mark ("Page 2 of 3")."""
    return _PAGE.fullmatch(text) is not None


def is_footer(text: str) -> bool:
    """Whether a cell says that its line sums readings up ("Mean", "Max.", "Average (n=12):", "n = 12")."""
    if _COUNT.fullmatch(text):
        return True
    word = squeeze(re.split(r"[(:=\[]", text, maxsplit=1)[0])
    return word in FOOTERS


def is_end(text: str) -> bool:
    """Whether a line says that the file ends here."""
    return squeeze(text.strip("*-=#<>[]() ")) in ENDS


def is_alarm(text: str) -> bool:
    """Whether a line of words says that something went wrong."""
    return _ALARM.search(text) is not None


def words_of(cells: Sequence[str]) -> str:
    """A line's words, without the mark of a comment."""
    return " ".join(filled(cells)).lstrip("#").strip()


def note_of(cells: Sequence[str]) -> tuple[str, str] | None:
    """The "key: value", "key = value" or "key,value" that a line is; None where it is none."""
    some = filled(cells)
    if not some:
        return None
    if hit := _NOTE.fullmatch(" ".join(some)):
        key, value = hit["key"].strip(), hit["value"].strip()
        return (key, value) if _LETTER.search(key) else None
    if 2 <= len(some) <= 3 and not some[0].startswith("#") and _LETTER.search(some[0]):
        return some[0], " ".join(some[1:])
    return None


def is_title(text: str) -> bool:
    """Whether a line of words is a title: in brackets or ornaments, or "Sweep 2"."""
    return len(text) <= LONGEST and bool(_TITLE.fullmatch(text) or _SERIES.fullmatch(text))


def is_bracketed(cells: Sequence[str]) -> bool:
    """Whether a whole line stands in brackets, into however many cells it was parted ("[Sweep 70 %]")."""
    return _BRACKETED.fullmatch(words_of(cells)) is not None


def setting_of_line(cells: Sequence[str]) -> dict[str, float]:
    """The setting that a line tells, in SI; {} where it tells none."""
    told = setting_of(words_of(cells))
    if not told and (note := note_of(cells)):
        told = setting_of_note(*note)
    return told


def notes_of(lines: Sequence[Sequence[str]]) -> dict[str, str]:
    """The notes of the lines before a table; titles come together under "title"."""
    notes: dict[str, str] = {}
    titles: list[str] = []
    for cells in lines:
        text = words_of(cells)
        if note := note_of(cells):
            key, value = note
            before = notes.get(key, "")
            notes[key] = f"{before}{AND}{value}" if before not in {"", value} else value
        elif text and (is_title(text) or setting_of(text)):
            titles.append(text)
    if titles:
        notes["title"] = AND.join(titles)
    return notes
