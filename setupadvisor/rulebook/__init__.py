"""Rulebook: terms, rules, degrees, and the review of a rule base."""
