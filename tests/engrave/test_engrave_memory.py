"""What the page compiler keeps between booklets is let go."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hymns_for_print import DENSE, PSALM

from chantwright.engrave import Booklet, Entry, booklet_pdf
from chantwright.engrave import pages as module
from chantwright.tones import load_tones

TONES = load_tones()
STATUS = Path("/proc/self/status")


def held() -> float:
    found = re.search(r"VmRSS:\s+(\d+)", STATUS.read_text())
    assert found
    return int(found[1]) / 1024


@pytest.mark.skipif(not STATUS.is_file(), reason="no /proc here")
def test_memory_does_not_grow_with_every_booklet(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_KEEP", 1)
    sizes = []
    for round_ in range(6):
        # Other titles each time: nothing may be taken from the run before.
        entries = tuple(Entry("hymn", f"{h.title} {round_}", h) for h in (PSALM, DENSE) * 6)
        booklet_pdf(Booklet(f"Book {round_}", entries=entries), TONES)
        sizes.append(held())
    # Without forgetting each run adds 5 MB, until ten of them are held.
    assert sizes[-1] - sizes[1] < 10, sizes
