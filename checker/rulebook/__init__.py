"""Rules as data: files, limits, evaluation."""
