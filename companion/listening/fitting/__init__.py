"""Scripts that make the fitted parts of this room: weights, negatives, the phoneme network. Not shipped."""
