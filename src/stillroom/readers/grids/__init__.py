"""A file as grids of raw cells: where each table begins, its header, its readings, and the lines that are none."""
