"""Measures: named, versioned definitions applied to the curves of a mounted fan."""

from stillroom.measures.found import Measure, Origin
from stillroom.measures.named import MEASURES, as_asked, measure_named
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
    "as_asked",
    "curve_in",
    "evaluate",
    "load_in",
    "measure_named",
    "sources_of",
    "system_marks",
]
