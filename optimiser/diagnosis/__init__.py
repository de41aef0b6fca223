"""What may be behind a fault, what a check would tell, and what to try in which order. Pure functions."""
