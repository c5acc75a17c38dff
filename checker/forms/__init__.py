"""Forms to fill in: one module makes them as workbooks, and reads them back.

A form is data (`model.Form`): pages of blocks of questions. `writing.workbook` makes it, filled in
as far as values are known; `reading.answers` reads it back, each answer with its sheet and cell.
`declaring.load` reads a form from a YAML file such as `house.yaml`.
"""
