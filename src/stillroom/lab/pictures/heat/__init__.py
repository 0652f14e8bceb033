"""Charts of heat, filled from the lab's results."""
