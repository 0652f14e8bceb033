"""Freezing what the lab publishes: documents, charts, tables, open data, the reader's page, corrections."""
