"""Control behaviour of a fan: speed against duty or voltage, starting and stopping, current at the start."""
