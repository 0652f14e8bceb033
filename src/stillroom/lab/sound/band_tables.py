"""Tables of levels as the methods want them: bands without weighting, and only those within hearing."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from stillroom.core.arrays import Array
from stillroom.core.standards.iec_61672_1_2013 import a_weighting, c_weighting
from stillroom.readers.reading.recording import Recording

LOWEST, HIGHEST = 19.0, 21_000.0
"""Third octaves from 20 Hz to 20 kHz are computed with [Hz]; meters print some beyond."""

_WEIGHTINGS: Mapping[str, Callable[[Array], Array]] = {"dBA": a_weighting, "dBC": c_weighting}


def columns_of(table: Recording) -> dict[str, Array]:
    """The columns of a table of levels [SI]. Levels of bands that were told with a weighting are given without it, by
    the weighting at each frequency; bands beyond hearing are left out.
    """
    columns = dict(table.columns)
    if "band_level" not in columns:
        return columns
    kept = (columns["frequency"] >= LOWEST) & (columns["frequency"] <= HIGHEST)
    columns = {name: values[kept] for name, values in columns.items()}
    weighting = _WEIGHTINGS.get(table.units.get("band_level", ""))
    if weighting is not None:
        columns["band_level"] = columns["band_level"] - weighting(columns["frequency"])
    return columns
