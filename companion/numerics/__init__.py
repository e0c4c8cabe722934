"""What is counted with: the bottom of a smooth surface, and the beta distribution."""
