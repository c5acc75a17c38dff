"""Design files: their format, and the tables that they are read into."""
