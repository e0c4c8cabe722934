"""Learning a teacher's voice: guide, takes, forecast, phrase check."""
