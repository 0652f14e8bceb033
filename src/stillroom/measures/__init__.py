"""Measures: named, versioned definitions applied to the curves of a mounted fan."""

from stillroom.measures.airflow import MEASURES, Measure, measure_named
from stillroom.measures.value import Condition, MeasuredValue, evaluate

__all__ = ["MEASURES", "Condition", "Measure", "MeasuredValue", "evaluate", "measure_named"]
