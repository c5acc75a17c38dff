"""Rules as data: their files, their limits, and their evaluation.

`loading` reads the folders of rules, a firm's over the program's (`overriding`): each rule by
`rule_file` and `limits`, files beside the rules by `beside_rules`; these share `nodes`, `literals`
and `misfits`, and make `model`, `beside_records` and `book`. `evaluation` compares one rule with
its limits for all rows, `outcomes` says what that comes to. For readers: `catalogue`, `searching`.
"""
