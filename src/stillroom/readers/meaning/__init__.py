"""What the tables of a file hold, how that was told, and what must be asked."""
