"""Advice: joins house values, rules, rider and past sessions into a setup."""
