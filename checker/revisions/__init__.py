"""Compares revisions of designs, and reviews the designs that others sent."""
