"""From commands and candidates to durable events: one writer, recorder, replay."""
