"""The logbook: everything a team wrote down, in one database; nothing in it is overwritten."""
