"""Rules as data: their files, their limits, and their evaluation."""
