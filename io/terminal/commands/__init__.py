"""One short module per command; the only rooms that may import all four."""
