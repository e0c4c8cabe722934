"""What is tried on the set-up's pages: the microphone, a button, the rehearsal, phrases and keys together."""
