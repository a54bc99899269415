"""What a former run left behind is taken away, and nothing else."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from small_parish import DAY, small_parish

from chantwright.parish import found_folder, open_folder, prepare
from chantwright.parish.madelist import NAME, MadeList


def run(parish: Path, out: Path) -> set[str]:
    with ThreadPoolExecutor(1) as pool:
        prepare(
            open_folder(parish), DAY, out, executor=pool, progress=lambda *_: None,
            suffixes=(".opus",),
        )  # fmt: skip
    return {p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file()}


def planned(parish: Path, *lines: str) -> None:
    head = "service: lesson\ndate: 2026-11-29\ntitle: Some hymns\n\n"
    (parish / "services" / "2026-11-29-lesson.txt").write_text(head + "\n".join(lines) + "\n")


def test_a_hymn_that_is_not_sung_any_more_goes(tmp_path: Path) -> None:
    parish = tmp_path / "parish"
    found_folder(parish, "Two Hymns")
    for name in ("praise", "amen"):
        (parish / "hymns" / f"{name}.txt").write_text(
            f"title: {name}\nwords from: Psalm 150:1, King James\ntone: 4\n\nPraise ye the Lord.\n"
        )
    planned(parish, "Tone 4: praise.txt", "Tone 4: amen.txt")
    out = tmp_path / "out"
    first = run(parish, out)
    assert {"hymns/01-praise.txt", "hymns/02-amen.txt", "recordings/02-amen.opus"} <= first
    own = {
        "hymns/mine.txt": "title: put here by hand\n",
        "hymns/02-amen.txt": "title: amen\nchanged: by hand\n",
        "recordings/notes.txt": "for the choir",
    }
    for name, text in own.items():
        (out / name).write_text(text)
    planned(parish, "Tone 4: praise.txt")
    second = run(parish, out)
    assert first - second == {"recordings/02-amen.opus", "recordings/02-amen.json"}
    for name, text in own.items():
        assert (out / name).read_text() == text
    # And by another order the first is another file: none of the old names stays.
    planned(parish, "Tone 4: amen.txt", "Tone 4: praise.txt")
    third = run(parish, out)
    assert "hymns/01-praise.txt" not in third
    assert "recordings/01-praise.opus" not in third
    assert {"hymns/01-amen.txt", "hymns/02-praise.txt"} <= third
    told = json.loads((out / NAME).read_text())["files"]
    assert {n for n in third if n.startswith(("hymns/", "recordings/"))} - set(own) == set(told) - {
        "hymns/02-amen.txt"
    }


@pytest.mark.parametrize(
    "name", ["../victim.txt", "hymns/../../victim.txt", "/victim.txt", "victim.txt", "other/v.txt",
             "hymns/link.txt", "hymns/deep/v.txt"],
)  # fmt: skip
def test_a_list_that_was_tampered_with_takes_nothing_else(tmp_path: Path, name: str) -> None:
    out = tmp_path / "out"
    for folder in ("hymns/deep", "recordings", "other"):
        (out / folder).mkdir(parents=True)
    victims = [tmp_path / "victim.txt", out / "victim.txt", out / "other" / "v.txt",
               out / "hymns" / "deep" / "v.txt"]  # fmt: skip
    for path in victims:
        path.write_text("keep")
    (out / "hymns" / "link.txt").symlink_to(tmp_path / "victim.txt")
    listed = MadeList.open(out)
    right = out / "hymns" / "right.txt"
    right.write_text("keep")
    listed.add([right])
    digest = listed.made["hymns/right.txt"]
    (out / NAME).write_text(json.dumps({"files": {name: digest}}))
    assert MadeList.open(out).sweep() == ()
    assert all(path.read_text() == "keep" for path in [*victims, right])


@pytest.mark.parametrize("text", ["", "[]", '{"files": 3}', "\x00", '{"files": {"a": 1}}'])
def test_a_spoilt_list_is_no_list(tmp_path: Path, text: str) -> None:
    (tmp_path / NAME).write_text(text)
    assert MadeList.open(tmp_path).sweep() == ()


def test_a_run_that_is_ended_leaves_its_list(tmp_path: Path) -> None:
    parish = small_parish(tmp_path / "parish")
    out = tmp_path / "out"

    def stop(label: str, done: int, total: int) -> None:
        if label.startswith("recorded") and done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt), ThreadPoolExecutor(1) as pool:
        prepare(open_folder(parish), DAY, out, executor=pool, progress=stop, suffixes=(".opus",))
    told = json.loads((out / NAME).read_text())["files"]
    assert len([n for n in told if n.startswith("hymns/")]) == 3
    assert len([n for n in told if n.endswith(".opus")]) == 2
