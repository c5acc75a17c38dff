"""Design files: their format, and the tables that they are read into.

`schema` compiles the format from `schemas/design.schema.json`. `tables` reads designs into one
matrix of numbers a subject (`table`), each by way of `taking`, which notes every mistake; `leaves`
turns the text of one value into a number. `parts` makes the table of loops' parts, `plans`,
`plan_text` and `drawings` read and measure a `plan:`. `changes` makes changes to what was typed.
"""
