"""Tones that confirm or refuse."""
