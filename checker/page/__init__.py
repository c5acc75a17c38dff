"""The page on this computer: drop a sheet or a design, see the report, change a value."""
