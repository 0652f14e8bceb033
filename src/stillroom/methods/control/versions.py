"""The version of the method, raised when the same tables would give other numbers."""

MOUNTING = 3
