"""One run: what a call means, its chunks and workers, its cache, its outputs."""
