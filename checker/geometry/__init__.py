"""What a drawing shows: outlines and routes as arrays in metres, and what is measured on them.

Knows no design, no rule and no unit but the metre.

`measuring` measures a plan (`plan`) in one pass, and gives columns (`measured`): `passes` says what
a route heats and what it only passes, `sampling` what lies beside each place of a pipe,
`screed_fields` what joints cut a floor into, over `shapes`. A drawing becomes a plan by `dxf` (the
only module that imports ezdxf, with `entities`), `assembly` and `chaining`; `writing` makes text of
a plan, whose points `lines` reads.
"""
