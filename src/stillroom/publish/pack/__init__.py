"""The chart pack of a release: every published ranking and what goes with it, in all layouts, and frames for video."""
