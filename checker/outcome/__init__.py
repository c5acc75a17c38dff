"""The results of a check: as columns for a whole batch, and as records for one design."""
