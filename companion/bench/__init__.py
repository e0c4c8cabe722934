"""Every measurement that a user can repeat: the ear on a folder, a live lesson."""
