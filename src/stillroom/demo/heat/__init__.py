"""The invented laboratory's heat rig: a heater, a liquid loop, a radiator on which two fans blow, and its loggers."""
