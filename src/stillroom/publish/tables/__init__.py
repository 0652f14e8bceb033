"""The standings of a release as tables: CSV, JSON and a workbook."""
