"""Kept pictures are those that are drawn."""

from tests.pages.golden_pictures import HERE, kept_pictures


def test_kept_pictures_are_those_drawn() -> None:
    drawn = kept_pictures()
    kept = {file.name: file.read_text(encoding="utf-8") for file in HERE.glob("*.svg")}
    assert kept == drawn
    assert all(len(text) < 20_000 for text in drawn.values())
