"""Print all figures as Markdown."""

from tests.published.page import page

print(page(), end="")
