"""The worked calculation behind a result."""
