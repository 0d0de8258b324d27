"""Entries: validated records typed by a person, files, units and the season table."""
