"""What tests of pages share."""

import shutil
from pathlib import Path as FilePath

import pytest

from tests.golden.play import EXAMPLES


@pytest.fixture
def root(tmp_path: FilePath, monkeypatch: pytest.MonkeyPatch) -> FilePath:
    """Stand in a copy of the clean example, which no other test touches."""
    shop = tmp_path / "shop"
    shutil.copytree(EXAMPLES / "soil-logger", shop)
    monkeypatch.chdir(shop)
    return shop
