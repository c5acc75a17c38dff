"""The results of a check: as columns for a whole batch, and as records for one design.

`findings` judges all rules for the designs in hand, `rule_findings` makes columns of one rule's
outcome over all rows (`columns`), in the few ways in which it came out (`patterns`), worded in bulk
(`phrasing`). A record (`results`) is made when it is asked for (`report`). `applicable` knows the
codes, day and stage of each design; `whatever`, `questions` and `answers` are about what is not
known; `status` alone makes the exit status of a run.
"""
