"""The local web pages: live, review, reflection, hand-off note, history."""
