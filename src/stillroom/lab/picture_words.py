"""Words that stand on every chart."""

from __future__ import annotations

import re
import unicodedata

from stillroom.records.settings import Settings
from stillroom.store.lab import now


def footer(settings: Settings, method: str, basis: str) -> str:
    """The line under a chart: who, how, from what, when."""
    return f"{settings.name} · method {method} · {basis} · {now()[:10]}"


def plain_name(*parts: str) -> str:
    """A file name from words: letters, figures and dashes only."""
    text = "-".join(each for each in parts if each)
    folded = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", folded).strip("-")[:100] or "chart"
