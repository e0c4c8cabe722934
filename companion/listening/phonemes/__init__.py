"""The acoustic model, pronunciations, their distance, and the search for a chain of phonemes."""
