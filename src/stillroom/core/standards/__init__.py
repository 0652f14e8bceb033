"""One file per standard and edition, each line of a formula tied to its equation number."""
