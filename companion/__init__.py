"""Lesson Companion: whole-class marks by voice or key, from the lesson to the hand-off note."""
