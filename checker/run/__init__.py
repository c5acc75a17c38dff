"""One run of a check: what a call means, its chunks of designs and workers, its cache, its
outputs.

`session.open_run` gives a `Session` (`opened`) to every command that judges: the designs that the
call names (`designs_named`), grouped by the policy that they are held to (`grouping`, `policy`,
`options`), with rules, pins, known findings and waivers (`held_to`, `rules_in_force`). `batch`
judges their chunks in order: `part` is a chunk on its way, `judging` judges designs together and
costs a failure the one design that caused it, `sharing` and `workers` distribute chunks, `cache`
knows what was found before. `outputs`, `parts` and `writer` write; `ending` makes the exit status
of what a command could not do.
"""
