"""Design files: format, tables."""
