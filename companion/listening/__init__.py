"""From sound to candidates: capture, gate, spotters, verifier."""
