"""A phrase found in what the acoustic model hears: detector, finds, learning, command fit, spotters."""
