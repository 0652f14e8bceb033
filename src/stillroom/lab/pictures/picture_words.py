"""Words that stand on every chart."""

from __future__ import annotations

import re
import unicodedata
from hashlib import sha256

from stillroom import wording
from stillroom.lab import versions
from stillroom.lab.book import Book
from stillroom.records.settings import Settings
from stillroom.store.lab import now


def footer(settings: Settings, method: str, basis: str) -> str:
    """The line under a chart: who, how, from what, when."""
    return f"{settings.name} · method {method} · {basis} · {now()[:10]}"


def plain_name(*parts: str) -> str:
    """A file name from words: letters, figures and dashes only; a long one ends in a digest of all of it."""
    text = _GROUPS.sub("", "-".join(each for each in parts if each))
    folded = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "-", folded).strip("-") or "chart"
    return name if len(name) <= LONGEST else f"{name[: LONGEST - 9]}-{sha256(name.encode()).hexdigest()[:8]}"


_GROUPS = re.compile(r"(?<=\d),(?=\d{3})")

LONGEST = 100
"""Letters of a file's name, without its ending."""


def versions_in_words(words: str) -> str:
    """Words in which versions of obstacles are said as they are read out: "rad27@2" becomes "rad27 version 2"."""
    return _VERSIONED.sub(lambda hit: f"{hit[1]} version{wording.NO_BREAK}{hit[2]}", words)


_VERSIONED = re.compile(rf"([^\s+{versions.AT}]+){versions.AT}([^\s+]+)")


def short_name(book: Book, words: str) -> str:
    """Obstacles as a title names them: without the version where the lab knows only one."""
    return _VERSIONED.sub(lambda hit: _short(book, hit[0]), words)


def _short(book: Book, name: str) -> str:
    known = {each.version for each in versions.records_of(book.obstacles, name)}
    return versions.bare(name) if len(known) < 2 else versions_in_words(name)


def described(book: Book, obstacle: str) -> str:
    """An obstacle in words: its short name, with the version where there are several, and its description after it.

    The name needs no article, whatever the description says: "rad27 version 2 (radiator, 27 mm thick)".
    """
    record = versions.record_of(book.obstacles, obstacle)
    if record is None:
        return short_name(book, obstacle)
    name = _short(book, versions.versioned(record.obstacle, record.version))
    return f"{name} ({record.description})" if record.description else name
