"""Notes on findings after judging: waivers and known findings."""
