"""Sound as it comes: capture, devices, trouble, speech gate, ring, sound files."""
