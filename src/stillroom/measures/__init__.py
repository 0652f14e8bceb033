"""Measures: named, versioned definitions applied to the curves of a mounted fan."""

from stillroom.measures.airflow import MEASURES, measure_named
from stillroom.measures.found import Measure
from stillroom.measures.value import Condition, MeasuredValue, evaluate

__all__ = ["MEASURES", "Condition", "Measure", "MeasuredValue", "evaluate", "measure_named"]
