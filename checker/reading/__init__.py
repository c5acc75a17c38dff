"""Reads YAML and JSON with the place of each value, and finds the files that a call names."""
