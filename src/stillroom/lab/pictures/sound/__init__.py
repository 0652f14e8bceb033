"""The pictures of sound, taken from finished results."""
