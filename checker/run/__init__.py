"""One run of a check: what a call means, its chunks of designs and workers, its cache, its
outputs.
"""
