"""What was learnt of a voice, and who speaks: files, features, the check, the enrolled engine."""
