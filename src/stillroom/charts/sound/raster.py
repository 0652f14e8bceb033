"""Levels as a picture of their own: a grey PNG through which a theme's colour is seen.

The picture holds lightness only. A drawing lays it as a mask over a rectangle in the colour of a role, so that one
picture serves light and dark: a quiet cell lets the paper through, a loud one the full colour.
"""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np
from numpy.typing import NDArray

from stillroom.charts import marks
from stillroom.charts.palette import role
from stillroom.charts.sound.series import Cells

STEPS = 40
"""Steps of lightness: a step is 1 dB where 40 dB are shown, and equal neighbours keep the file small."""


def shades(cells: Cells, quiet: float, loud: float) -> NDArray[np.uint8]:
    """Levels as grey, 0 at `quiet` and where nothing was recorded, 255 at `loud`; the highest frequency on top."""
    share = np.clip((cells - quiet) / (loud - quiet), 0.0, 1.0)
    share = np.where(np.isfinite(cells), share, 0.0)
    grey: NDArray[np.uint8] = np.rint(np.rint(share * STEPS) * (255.0 / STEPS)).astype(np.uint8)
    return grey[::-1]


def grey_png(grey: NDArray[np.uint8]) -> bytes:
    """A greyscale PNG (ISO/IEC 15948, from memory: signature, IHDR, one IDAT, IEND; filter 0 on each row)."""
    high, wide = grey.shape
    raw = np.hstack([np.zeros((high, 1), np.uint8), grey]).tobytes()
    header = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(raw, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in chunks
    )


def veil(grey: NDArray[np.uint8], width: float, height: float, name: str) -> str:
    """The picture as SVG, its upper left corner at the origin; `name` must be one of a kind on its page."""
    address = "data:image/png;base64," + base64.b64encode(grey_png(grey)).decode()
    size = f'width="{marks.place(width)}" height="{marks.place(height)}"'
    return (
        f'<mask id="{name}" maskUnits="userSpaceOnUse" x="0" y="0" {size}>'
        f'<image href="{address}" {size} preserveAspectRatio="none"/></mask>'
        f'<rect {size} fill="{role("loud")}" mask="url(#{name})"/>'
    )


def key(width: float, height: float, name: str) -> str:
    """The scale of lightness from quiet (left) to loud (right)."""
    ramp = np.rint(np.linspace(0.0, 255.0, STEPS + 1)).astype(np.uint8)[None, :]
    return veil(np.repeat(ramp, 2, axis=0), width, height, name)
