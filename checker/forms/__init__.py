"""Forms to fill in: written as workbooks or web pages, and read back.

A form is data (`model.Form`): pages of blocks of questions. `writing.workbook` writes it, filled in
as far as values are known; `reading.answers` reads it back, each answer with its sheet and cell.
`declaring.load` reads a form's description from a YAML file such as `house.yaml`.

A question has a name that its reader knows (`to`) and a leaf for kind, bounds and choices:
`declaring.question("loops.length")` takes that of the design format, any other is
`Leaf("answer", "text")`. A block has one record, or several side by side or, with `across=False`,
one below another, under a `key`. Answers come back as a design writes them
(`Answered.values[to]`), each with its cell, with what was refused and why, and what is written
where nothing is asked. Titles find the cells, so rows and columns may be moved or added.
"""
