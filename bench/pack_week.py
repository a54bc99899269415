"""The practice pack of the demonstration's weekend: its size, and the time beside its recordings.

Run: python bench/pack_week.py
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from pathlib import Path

from figures import FULL, Figure, clocked

from chantwright.parish import copy_demo, demo_date, open_folder
from chantwright.web.pack import write_pack, zip_pack


def figures(size: str) -> Iterator[Figure]:
    """Yield time and size; the usual run packs the Liturgy alone."""
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(1) as pool:
        where = Path(folder)
        os.environ["CHANTWRIGHT_CACHE"] = str(where / "store")
        parish = copy_demo(where / "parish")
        day = demo_date(parish)
        if size != FULL:
            for path in (parish / "services").glob("*.txt"):
                if "liturgy" not in path.name:
                    path.unlink()
        yield from packed(parish, day, where, pool)


def packed(parish: Path, day: object, where: Path, pool: Executor) -> Iterator[Figure]:
    """Pack twice: the second time every recording is there already."""

    def write(out: str) -> object:
        return write_pack(
            open_folder(parish), day, where / out, executor=pool, progress=lambda *_: None
        )

    first = clocked(lambda: write("first"))
    again = clocked(lambda: write("again"))
    pack = write("again")
    files = [p for p in (where / "again").rglob("*") if p.is_file()]
    sounds = sum(p.stat().st_size for p in files if p.suffix in (".opus", ".mp3"))
    every = sum(p.stat().st_size for p in files)
    told = f"{len(pack.hymns)} hymns, {len(files)} files"
    yield Figure("pack", "written, recordings and all", first, "s of all cores", count=told)
    yield Figure("pack", "written again, recordings kept", again, "s of all cores",
                 peer="the first time", peer_value=first, count=told)  # fmt: skip
    yield Figure("pack", "size", every / 1e6, "MB", peer="its recordings alone",
                 peer_value=sounds / 1e6, count=told)  # fmt: skip
    zipped = zip_pack(pack, where / "pack.zip").stat().st_size
    yield Figure("pack", "size as one zip", zipped / 1e6, "MB", peer="the folder",
                 peer_value=every / 1e6, count=told)  # fmt: skip


if __name__ == "__main__":
    for figure in figures(FULL):
        print(f"{figure.what}: {figure.value:.3g} {figure.unit}; {figure.peer} {figure.peer_value}")
