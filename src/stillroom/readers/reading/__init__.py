"""Strict reading by a layout, into SI: whole, in blocks, or as a stream; and the sweeps of what was read."""
