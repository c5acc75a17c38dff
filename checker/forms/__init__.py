"""Forms to fill in: written as workbooks or web pages, and read back.

A form is data (`model.Form`): pages of blocks of questions. `writing.workbook` writes it, filled in
as far as values are known; `reading.answers` reads it back, each answer with its sheet and cell.
`declaring.load` reads a form's description from a YAML file such as `house.yaml`.
"""
