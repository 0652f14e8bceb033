"""The sound test: recordings and tables of levels to level against speed, tones and bands."""
