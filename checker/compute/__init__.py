"""Names to columns, lazily, with the reason where a number is missing."""
