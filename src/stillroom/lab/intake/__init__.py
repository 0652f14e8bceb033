"""Bringing files in: which are meant, what they hold, whose runs they are, and writing it all down at once."""
