"""Charts of heat: a run settling, and what airflow predicts beside what was measured."""
