"""Tones and books, loaded once; and the helper that stands beside these tests."""

import sys
from pathlib import Path

import pytest

from chantwright.setting import Books, load_books
from chantwright.tones import Tones, load_tones

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def tones() -> Tones:
    return load_tones()


@pytest.fixture(scope="session")
def books() -> Books:
    return load_books()
