"""What a drawing shows: outlines and routes as arrays in metres, and what is measured on them.

Knows no design, no rule and no unit but the metre.
"""
