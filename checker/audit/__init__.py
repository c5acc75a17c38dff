"""Past jobs: what was designed, installed and measured, why somebody complains, who may be next."""
