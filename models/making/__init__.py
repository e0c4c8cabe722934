"""Scripts that make the bundled networks; one command a file, not installed."""
