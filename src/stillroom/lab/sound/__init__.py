"""Sound in the lab: what belongs together, what is worked out, and what it says."""
