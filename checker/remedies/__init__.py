"""Changes to a design that clear a finding, found by judging changed copies of it.

`search` asks `candidates` (with `structures` and `water`) what a rule's list of changes offers,
`sifting` which of these to try first, and `trial` judges them all at once, each compared with its
unchanged design. `proving` writes what clears a finding into the file's own text, which is then
read and judged like any design. `habits` looks for one change over all designs of a firm,
`ranging` judges a design at steps of a range, and `chances` under tolerances (`draws`).
"""
