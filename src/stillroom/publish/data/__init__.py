"""The open data of a release: tables with a dictionary of every column, as a data package."""
