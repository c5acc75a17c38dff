"""Computes columns by name, on demand, with the reason where a number is missing."""
