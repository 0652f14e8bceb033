"""Files of sound: recordings as they are streamed."""
