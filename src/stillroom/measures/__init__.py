"""Measures: named, versioned definitions applied to the curves of a mounted fan."""

from stillroom.measures.found import Measure, Origin
from stillroom.measures.named import MEASURES, measure_named
from stillroom.measures.value import (
    Condition,
    MeasuredValue,
    curve_in,
    evaluate,
    load_in,
    sources_of,
    system_marks,
)

__all__ = [
    "MEASURES",
    "Condition",
    "Measure",
    "MeasuredValue",
    "Origin",
    "curve_in",
    "evaluate",
    "load_in",
    "measure_named",
    "sources_of",
    "system_marks",
]
