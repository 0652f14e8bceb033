"""What the words of one cell, header or line mean: numbers, dates, units, settings."""
