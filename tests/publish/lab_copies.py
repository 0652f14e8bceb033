"""Copies of a lab for tests: what is never written in place is linked, not copied."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

LINKED = frozenset({".npz", ".flac", ".png", ".svg"})
"""Results of the cache, recordings and charts: programs replace them, and never write into them."""


def copied(lab: Path, to: Path) -> Path:
    """A copy of a lab that a test may change; the place to which it was made."""
    return Path(shutil.copytree(lab, to, copy_function=_linked))


def _linked(source: str, target: str) -> str:
    is_kept = Path(source).suffix in LINKED and "cache" in Path(source).parts
    return os.link(source, target) or target if is_kept else shutil.copy2(source, target)
