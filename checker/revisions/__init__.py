"""Compares revisions of designs, and reviews the designs that others sent.

Comparing: `matching` finds which record is which, by `evidence` (every value that two share or in
which they differ is a weight) and `assignment` in turn for rooms, headers, floors, pipes and
loops; `adding_up` finds areas that were split or merged, and `doubting` what could be read
otherwise. `fates` says what became of each finding, `comparing` what was changed and whether the
design or a limit made it so; `comparison` are its records, `comparison_reports` writes them.

Reviewing: `senders` sorts designs by sender, with their revisions; `reviewing` makes of them what
each letter says, `letters/` writes it; `tallies` and `overview` are for the reviewer. With a
register, `rounds` compares what came in with `register`, and `points` says what a revision makes
of each point. What a design lacks (`lacking`) goes out as a form (`missing`), comes back
(`filled_in`), and is kept until a revision says otherwise (`kept`).
"""
