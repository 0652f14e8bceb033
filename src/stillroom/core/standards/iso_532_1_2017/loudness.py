"""Loudness of a stationary sound from its one-third-octave levels (ISO 532-1:2017, clause 5 and Annex A).

The steps follow the program printed with the standard, as transcribed in mosqito 1.2.1; see `tables`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike

from stillroom.core.arrays import Array
from stillroom.core.standards.iso_532_1_2017.tables import (
    A0,
    CENTRES,
    DCB,
    DDF,
    DLL,
    LTQ,
    RAP,
    RNS,
    USL,
    ZUP,
)
from stillroom.core.standards.limits import require, require_finite, require_not_negative
from stillroom.errors import OutOfRange

NO_SOUND = -60.0
"""The level [dB] that stands for a band without sound (as in test signal 1 of Annex B)."""

LOUDEST_LOW_BAND = 120.0
"""Up to here the weights of the bands from 25 Hz to 250 Hz are given [dB] (Table A.3)."""

STEPS = 240
"""Steps of 0.1 of the critical-band rate, 0.1 … 24."""

LEAST_PHON = 3.0
"""The lowest loudness level that the standard gives [phon]."""


class Field(Enum):
    """The sound field in which the levels were measured."""

    FREE = "free"
    DIFFUSE = "diffuse"


@dataclass(frozen=True)
class Loudness:
    """A loudness.

    Parameters
    ----------
    sone : loudness [sone].
    phon : loudness level [phon].
    specific : specific loudness at 0.1, 0.2 … 24 of the critical-band rate [sone], shape (240,).
    """

    sone: float
    phon: float
    specific: Array


def loudness(bands: ArrayLike, field: Field = Field.FREE) -> Loudness:
    """The loudness of a stationary sound.

    A band that could not be measured is the caller's to decide about, and nothing is put in for it here: with
    an upper bound the loudness is an upper bound; with `NO_SOUND` for a band that was excluded it is a lower
    one, to be told beside the number.

    Parameters
    ----------
    bands : one-third-octave levels from 25 Hz to 12.5 kHz [dB], re 20 µPa, shape (28,).
    field : the sound field.

    Returns
    -------
    loudness [sone], loudness level [phon] and specific loudness.

    Raises
    ------
    OutOfRange : not 28 finite levels, or one up to 250 Hz above 120 dB (outside Table A.3).

    Source
    ------
    ISO 532-1:2017, Annex A, as transcribed in mosqito 1.2.1. Not rounded to printed digits.
    """
    levels = require_finite("a one-third-octave level", bands, "dB")
    if levels.shape != (len(CENTRES),):
        raise OutOfRange("one-third-octave levels", found=f"{levels.size}", expected="28, 25 Hz to 12.5 kHz")
    low = levels[: DLL.shape[1]]
    require("a level up to 250 Hz", low, lambda v: v <= LOUDEST_LOW_BAND, "up to 120 dB", "dB")
    sone, specific = _with_slopes(_core_loudness(levels, field))
    return Loudness(sone, float(phon_from_sone(sone)), specific)


def _core_loudness(levels: Array, field: Field) -> Array:
    """The core loudness of 20 critical bands, and a 21st of nothing, shape (21,)."""
    low = levels[: DLL.shape[1]]
    within = np.minimum((low > RAP[:, None] - DLL).cumprod(axis=0).sum(axis=0), len(RAP) - 1)
    intensity = 10.0 ** ((low + DLL[within, np.arange(len(low))]) / 10.0)  # Table A.3
    joined = [intensity[:6].sum(), intensity[6:9].sum(), intensity[9:].sum()]
    critical = np.concatenate([10.0 * np.log10(joined), levels[DLL.shape[1] :]])
    excitation = critical - A0 + (DDF if field is Field.DIFFUSE else 0.0)  # Tables A.4, A.5
    heard = excitation > LTQ
    s = 0.25
    above = np.where(heard, excitation - DCB - LTQ, 0.0)  # Tables A.6, A.7
    core = 0.0635 * 10.0 ** (0.025 * LTQ) * ((1.0 - s + s * 10.0 ** (0.1 * above)) ** 0.25 - 1.0)
    core = np.where(heard, np.maximum(core, 0.0), 0.0)
    core[0] *= min(1.0, 0.4 + 0.32 * core[0] ** 0.2)  # threshold within the lowest critical band
    return np.append(core, 0.0)


def _with_slopes(core: Array) -> tuple[float, Array]:
    """Loudness [sone] and specific loudness, the slopes towards higher bands put on (Tables A.8, A.9)."""
    knots_z, knots_n = [0.0], [0.0]
    total, z1, n1, j = 0.0, 0.0, 0.0, len(RNS) - 1
    for i, upper in enumerate(ZUP):
        column = min(max(i - 1, 0), USL.shape[1] - 1)
        while z1 < upper:
            if n1 <= core[i]:
                if n1 < core[i]:
                    j = int(np.argmax(core[i] >= RNS))
                    knots_z.append(z1)
                    knots_n.append(core[i])
                z2, n2 = float(upper), float(core[i])
            else:
                slope = USL[j, column]
                n2 = float(max(RNS[j], core[i]))
                z2 = z1 + (n1 - n2) / slope
                if z2 > upper:
                    z2 = float(upper)
                    n2 = n1 - (z2 - z1) * slope
            total += (z2 - z1) * ((n1 if n1 > core[i] else n2) + n2) / 2.0
            while j < len(RNS) - 1 and n2 <= RNS[j]:
                j += 1
            z1, n1 = z2, n2
            knots_z.append(z1)
            knots_n.append(n1)
    just_before = (
        np.arange(1, STEPS + 1) / 10.0 - 1e-9
    )  # at the end of a band its own value, not the next one's
    return total, np.interp(just_before, knots_z, knots_n)


def phon_from_sone(sone: ArrayLike) -> Array:
    """The loudness level of a loudness.

    Parameters
    ----------
    sone : loudness [sone], any shape.

    Returns
    -------
    loudness level [phon], not under 3 phon. Under 1 sone the standard's formula reaches 40.007 phon just
    before 1 sone, where it is 40 phon: it is held at 40 phon, so that louder is never less.

    Raises
    ------
    OutOfRange : below zero, or not finite.

    Source
    ------
    ISO 532-1:2017, clause 5.7 (from memory).
    """
    n = require_not_negative("a loudness", sone, "sone")
    loud = 40.0 + 10.0 * np.log2(np.maximum(n, 1.0))
    soft = np.clip(40.0 * (n + 0.0005) ** 0.35, LEAST_PHON, 40.0)
    return np.where(n >= 1.0, loud, soft)


def sone_from_phon(phon: ArrayLike) -> Array:
    """The loudness of a loudness level: `phon_from_sone` turned round.

    Parameters
    ----------
    phon : loudness level [phon], any shape.

    Returns
    -------
    loudness [sone].

    Raises
    ------
    OutOfRange : under 3 phon, or not finite.

    Source
    ------
    ISO 532-1:2017, clause 5.7 (from memory); 2^((L − 40)/10) from 40 phon up is the definition of the sone.
    """
    level = require(
        "a loudness level", phon, lambda v: (v >= LEAST_PHON) & (v < np.inf), "3 phon or more", "phon"
    )
    loud = 2.0 ** ((level - 40.0) / 10.0)
    soft = np.maximum((np.minimum(level, 40.0) / 40.0) ** (1.0 / 0.35) - 0.0005, 0.0)
    return np.where(level >= 40.0, loud, soft)
