"""Keys: the hash of everything that a result hangs on. Floats are hashed by their hexadecimal form."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Mapping
from enum import Enum
from typing import Any

LENGTH = 24
"""Hexadecimal digits of a key (96 bits)."""

_AS_THEY_ARE = frozenset({str, int, bool, type(None)})


def canonical(value: Any) -> Any:
    """A value as plain JSON in which every float is exact and every mapping is in order.

    Raises
    ------
    TypeError : a kind of value that has no such form.
    """
    if type(value) in _AS_THEY_ARE:
        return value
    if isinstance(value, float):
        return float.hex(value)
    if isinstance(value, Enum):
        return canonical(value.value)
    if isinstance(value, list | tuple):
        return [canonical(each) for each in value]
    if isinstance(value, Mapping):
        return {str(name): canonical(value[name]) for name in sorted(value, key=str)}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {each.name: canonical(getattr(value, each.name)) for each in dataclasses.fields(value)}
    raise TypeError(f"{type(value).__name__} has no canonical form")


def key_of(what: str, *parts: Any) -> str:
    """The key of a thing from its parts: the same parts, the same key, on any machine."""
    text = json.dumps([what, canonical(parts)], ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:LENGTH]
