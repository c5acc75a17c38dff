"""Reads YAML and JSON with the place of each value, and finds the files that a call names.

`design_files` finds the files that a call names, `addresses` those elsewhere, and `ledger` keeps
what became of each; `bounded` reads their bytes. `yaml_reader` makes `documents` of them, in which
every scalar is the text that was typed; `syntax` explains what is no YAML or JSON, `mistakes` are
mistakes with their places, `other_files` says what a file is that is no design. `yaml_text` changes
values within a file's text.
"""
