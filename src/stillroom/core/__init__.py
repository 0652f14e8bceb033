"""Pure calculation in SI: NumPy arrays in and out, no files, no clock, no records."""
