"""What weeks of lessons say: what to teach again, whether it helped, coverage, levels, practice."""
