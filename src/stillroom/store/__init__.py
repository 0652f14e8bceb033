"""The lab on disk: originals, journal, the index made from it, results by key."""
