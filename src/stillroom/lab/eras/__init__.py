"""A rig over the years: its eras, its reference fan, and how earlier values come over a bridge."""
