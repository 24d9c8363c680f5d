"""Draws the kept pictures anew; look at them before you commit them."""

from tests.pages.golden_pictures import HERE, kept_pictures

for name, text in kept_pictures().items():
    (HERE / name).write_text(text, encoding="utf-8")
