"""How a mounting's sound is kept: plain words and numbers, and arrays."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from numpy.typing import NDArray

from stillroom.core.sound.sound_mounting import SoundMounting

Arrays = dict[str, NDArray[Any]]


def sound_parts(sound: SoundMounting) -> tuple[dict[str, Any], Arrays]:
    """A mounting's sound as a JSON object and arrays."""
    raise NotImplementedError


def sound_of(body: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> SoundMounting:
    """A mounting's sound from its parts."""
    raise NotImplementedError
