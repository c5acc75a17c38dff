"""Two revisions of a design, and a sender's designs reviewed."""
