"""The way in and, afterwards, set-up: the settings file as pages in a teacher's words, one step a screen."""
