"""Sound: from samples to levels, bands, tones, speeds and level against speed."""
