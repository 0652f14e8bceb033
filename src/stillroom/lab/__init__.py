"""What hangs on what, what is missing, and who works it out."""
