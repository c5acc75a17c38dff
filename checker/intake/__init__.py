"""Reads loop schedules that come as spreadsheets, and drawings, into design files.

A sheet goes through these modules: `sheets` reads a workbook (`workbooks`, `opendocument`) or CSV
(`delimited`) into cells, with what their formats say (`looks`, `styles`); a map (`maps`, over
`fields`) says where values are; `layout` finds the tables, `sheet_reader` their rows, ids and
records, `cell_values` what a cell says (`values`, `units_written`); `assembling` makes one design
of all sheets, and `writing` its text with each record's cell.

Without a map, one is proposed: `guessing` tells what a heading means (by
`words/headings.yaml`), `proposing` where a table is and what each column is, `repeating` which
tables belong together, `suggesting` makes that a map. `marks` and `weighing` find the decimal mark
and units that alone make a sheet possible. `drawings` takes a DXF file instead of a sheet.
"""
