"""What weeks of lessons say: routines to teach again, whether that helped, coverage, levels, one's own practice."""
