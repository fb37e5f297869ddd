"""Checks of what the tables say together: faults, queries and notes."""
