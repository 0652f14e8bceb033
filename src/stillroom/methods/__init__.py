"""A folder per test: the one place where readings and formulas meet."""
