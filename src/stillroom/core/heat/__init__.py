"""Heat: what a rig with a liquid loop measures, from readings at an instant to a mounting as a whole."""
