"""What would do: changes to a design that clear a finding, worked out by judging it again."""
