"""Reads loop schedules that come as spreadsheets, and drawings, into design files."""
