"""The demonstration from end to end: every hymn printed, recorded, linked and closed rightly."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pdfplumber
import pytest
import soundfile
from click.testing import CliRunner
from lxml import html

from chantwright.cli import main
from chantwright.score import Hymn, hymnfile
from chantwright.tones import load_tones
from chantwright.tuning import degree_name

TONES = load_tones()


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    out = tmp_path_factory.mktemp("demo")
    result = CliRunner().invoke(main, ["demo", "--out", str(out)])
    assert result.exit_code == 0, result.output
    assert str(out / "booklet.pdf") in result.stdout
    yield out


@pytest.fixture(scope="module")
def hymns(demo: Path) -> list[Hymn]:
    return [hymnfile.read(p) for p in sorted((demo / "hymns").glob("*.txt"))]


def test_all_eight_tones_are_there(hymns: list[Hymn]) -> None:
    assert len(hymns) >= 15
    assert {h.tone for h in hymns} == set(range(1, 9))


def test_the_weeks_tone_is_the_published_one(demo: Path, hymns: list[Hymn]) -> None:
    # Common practice: the kekragarion takes the tone of the week. 29 November 2026 is the 33rd
    # Sunday after Pascha (12 April 2026, dateutil), so tone ((33 - 1) mod 8) + 1 = 1.
    assert next(h for h in hymns if h.title.startswith("Lord, I cry")).tone == 1


def test_every_hymn_is_set_and_closes_on_a_note_of_its_branch(hymns: list[Hymn]) -> None:
    for hymn in hymns:
        assert hymn.is_set
        assert hymn.branch is not None
        assert hymn.base is not None
        branch = TONES.branch(hymn.branch)
        closes = [p.syllables[-1].notes[-1].degree for p in hymn.phrases]
        allowed = {*branch.incomplete, *branch.complete, *branch.final}
        assert {degree_name(d) for d in closes} <= {degree_name(d) for d in allowed}, hymn.title
        assert closes[-1] in branch.final, hymn.title
        for phrase in hymn.phrases:
            for syllable in phrase.syllables:
                for note in syllable.notes:
                    assert branch.wide[0] <= note.degree <= branch.wide[1]


def test_recordings_last_as_long_as_the_music(demo: Path, hymns: list[Hymn]) -> None:
    paths = sorted((demo / "hymns").glob("*.txt"))
    for path, hymn in zip(paths, hymns, strict=True):
        tempo = hymn.tempo or TONES.styles["heirmologic"].tempo
        lasts = {
            suffix: soundfile.info(demo / "recordings" / f"{path.stem}{suffix}").duration
            for suffix in (".opus", ".mp3", ".flac")
        }
        # Intonation and count-in come on top of the hymn itself.
        assert min(lasts.values()) > float(hymn.beats) * 60 / tempo
        assert max(lasts.values()) - min(lasts.values()) < 0.2


def test_the_booklet_holds_every_word(demo: Path, hymns: list[Hymn]) -> None:
    with pdfplumber.open(demo / "booklet.pdf") as pdf:
        text = " ".join(page.extract_text() or "" for page in pdf.pages)
        fonts = {c["fontname"] for page in pdf.pages for c in page.chars}
    assert all("+" in f for f in fonts), "a font is not embedded"
    letters = re.sub(r"[^a-z]", "", text.lower())
    for hymn in hymns:
        assert re.sub(r"[^a-z]", "", hymn.title.lower()) in letters, hymn.title


def test_one_hymn_is_printed_in_staff_and_neumes(demo: Path, hymns: list[Hymn]) -> None:
    with pdfplumber.open(demo / "staff-and-neumes.pdf") as pdf:
        text = " ".join(page.extract_text() or "" for page in pdf.pages)
    words = " ".join(p.words for p in hymns[0].phrases)
    # Each phrase stands twice: once under the staff, once under the neumes.
    counted = [re.sub(r"[^a-z]", "", t.lower()) for t in (text, words.split()[0])]
    assert counted[0].count(counted[1]) >= 2
    assert "Signature" not in text  # drawn as a picture, said only to a screen reader
    assert "Ἦχος" in text


def test_the_page_links_what_is_there_and_nothing_else(demo: Path, hymns: list[Hymn]) -> None:
    page = html.fromstring((demo / "index.html").read_bytes())
    targets = [*page.xpath("//a/@href"), *page.xpath("//source/@src")]
    assert len(targets) > 3 * len(hymns)
    ids = set(page.xpath("//@id"))
    for target in targets:
        if target.startswith("#"):
            assert target[1:] in ids
        else:
            assert (demo / target).is_file(), target
    assert not page.xpath("//script")
    assert all(s.startswith("data:image/svg+xml") for s in page.xpath("//img/@src"))
    assert page.xpath("//html/@lang") == ["en"]
    assert all(page.xpath("//audio/@aria-label"))


def test_set_hymn_files_read_back_as_json(demo: Path) -> None:
    path = next(iter(sorted((demo / "hymns").glob("*.txt"))))
    result = CliRunner().invoke(main, ["pitch", str(path), "--group", "men", "--json"])
    assert result.exit_code == 0
    assert json.loads(result.stdout)[0]["hz"] > 0
