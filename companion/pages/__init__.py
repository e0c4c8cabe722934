"""The local web pages: live, review, reflection, hand-off note, next time, history and set-up."""
