"""Pictures of the invented fans, which stand for the photographs that a laboratory takes: frame, hub and blades from
the front, in grey, as PNG.
"""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Iterable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.fan import Fan

SIDE = 240
"""Width and height of a picture [px]."""
_PAPER, _FRAME, _HOLE, _BLADE, _HUB = 244, 70, 226, 110, 48
SWEEP = 1.1
"""By which angle a blade bends back from hub to tip [rad]."""


def write_photos(folder: Path, models: Iterable[Fan], bought: Iterable[tuple[str, str]]) -> None:
    """Write one picture of each sample that was bought: photos/FAN/SAMPLE-front.png."""
    by_name = {each.name: each for each in models}
    for number, (fan, sample) in enumerate(bought):
        place = folder / "photos" / fan / f"{sample}-front.png"
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(png(picture(by_name[fan].blades, turned=0.37 * number)))


def picture(blades: int, turned: float) -> NDArray[np.uint8]:
    """A fan from the front, (SIDE, SIDE), 0 black to 255 white; `turned` is where its first blade stands [rad]."""
    axis = (np.arange(SIDE) + 0.5) / SIDE * 2.0 - 1.0
    x, y = np.meshgrid(axis, axis)
    radius, angle = np.hypot(x, y), np.arctan2(y, x)
    image = np.full((SIDE, SIDE), _PAPER)
    image[np.maximum(abs(x), abs(y)) < 0.95] = _FRAME
    image[radius < 0.88] = _HOLE
    phase = (angle - turned + SWEEP * radius) % (2.0 * math.pi / blades)
    image[(radius < 0.84) & (phase < 0.62 * 2.0 * math.pi / blades)] = _BLADE
    image[radius < 0.34] = _HUB
    for corner_x, corner_y in ((-1, -1), (-1, 1), (1, -1), (1, 1)):
        image[np.hypot(x - 0.84 * corner_x, y - 0.84 * corner_y) < 0.05] = _PAPER
    return image.astype(np.uint8)


def png(image: NDArray[np.uint8]) -> bytes:
    """A grey image as a PNG file (Portable Network Graphics, W3C Recommendation, second edition, 2003)."""
    height, width = image.shape
    rows = np.hstack([np.zeros((height, 1), np.uint8), image]).tobytes()
    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(rows, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(name, data) for name, data in chunks)


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
