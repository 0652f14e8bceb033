"""Airflow in a lab: from runs to mounted fans and obstacles."""
