"""Learning: amounts, past sessions, ranges, leaving events out."""
