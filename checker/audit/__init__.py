"""Past jobs: what was designed, laid and measured, why somebody complains, and who may be next."""
