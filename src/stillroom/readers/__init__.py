"""Per kind of file: recognise it, read it strictly into SI, keep every raw cell and its place."""
