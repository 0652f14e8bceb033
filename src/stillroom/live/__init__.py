"""Runs being watched: each heat rig's growing files, one state word with one reason, and the minutes to go."""
