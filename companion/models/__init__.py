"""Speech models: which there are, where they lie, and how one gets onto this machine."""
