"""Changes to a design that clear a finding, found by judging changed copies of it."""
