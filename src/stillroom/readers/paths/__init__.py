"""What names of folders and files say, and which are safe to keep."""
