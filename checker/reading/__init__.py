"""YAML and JSON with places, and the files that a call means."""
