"""Watching a folder at the rig: files that have come to rest, each brought in, checked and drawn as it arrives."""
