"""The manual as a static site: written pages, and pages made of rules, formats and commands."""
