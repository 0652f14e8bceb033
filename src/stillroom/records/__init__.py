"""What a laboratory knows: frozen dataclasses whose field metadata derive tables, JSON and documentation."""
