from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pdfplumber
import pypdf
import pytest
from hymns_for_print import DENSE, GREEK, PSALM
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from chantwright.engrave import (
    FORMS,
    Booklet,
    Entry,
    Handout,
    StaffOptions,
    booklet_pdf,
    handout_pdf,
    ladder,
    lines,
    words_only_lines,
    write_handout,
)
from chantwright.engrave.folding import sheets
from chantwright.errors import ChantError
from chantwright.score import Hymn, Note, Phrase, Syllable
from chantwright.tones import load_tones

TONES = load_tones()
PT = 72 / 25.4
LONG = replace(PSALM, title="A long psalm", phrases=PSALM.phrases * 3)
BOOKLET = Booklet(
    title="A Book for the Stand",
    parish="Chapel of the Garden",
    entries=(
        Entry("section", "Great Vespers"),
        Entry("hymn", LONG.title, LONG),
        Entry("note", "Prokeimenon", rubric="Words not yet found"),
        Entry("hymn", GREEK.title, GREEK),
        Entry("section", "Orthros"),
        Entry("hymn", DENSE.title, DENSE),
    ),
)


def opened(**changes: Any) -> Any:
    return pdfplumber.open(io.BytesIO(booklet_pdf(replace(BOOKLET, **changes), TONES)))


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("form", [f for f in FORMS if f != "folded"])
def test_every_form_holds_every_word_in_order(form: Any) -> None:
    with opened(form=form, letters=None) as pdf:
        whole = squeezed("".join(c["text"] for page in pdf.pages for c in page.chars))
        at = 0
        for hymn in (LONG, GREEK, DENSE):
            at = whole.index(squeezed(hymn.title), at)
            for line in words_only_lines(hymn):
                for word in line.split():
                    found = whole.find(squeezed(word).replace("-", ""), at)
                    assert found >= 0, word
                    at = found


@pytest.mark.parametrize("form", FORMS)
def test_nothing_hangs_over_the_edge(form: Any) -> None:
    with opened(form=form) as pdf:
        for page in pdf.pages:
            for mark in [*page.chars, *page.rects, *page.curves, *page.lines]:
                assert mark["x0"] >= -0.1
                assert mark["x1"] <= page.width + 0.1
                assert mark["top"] >= -0.1
                assert mark["bottom"] <= page.height + 0.1


def test_measures_of_the_forms() -> None:
    with opened(form="slides") as pdf:
        page = pdf.pages[2]
        # A projector's picture is 16 to 9: common practice.
        assert page.width / page.height == pytest.approx(16 / 9, rel=0.002)
        assert max(c["size"] for c in page.chars) >= 26 - 0.1
    with opened(form="phone") as pdf:
        for page in pdf.pages:
            assert page.width == pytest.approx(90 * PT, abs=0.5)
    with opened(form="folded") as pdf:
        for page in pdf.pages:
            # A5 by A5 on A4 (ISO 216), turned.
            assert (page.width, page.height) == pytest.approx((297 * PT, 210 * PT), abs=0.5)


def test_words_on_a_phone_are_16_px_at_360_px() -> None:
    with opened(form="phone", letters=None) as pdf:
        words = [c for p in pdf.pages for c in p.chars if c["text"].isalpha()]
        sung = {squeezed(s.text)[:1] for p in GREEK.phrases for s in p.syllables}
        smallest = min(c["size"] for c in words if c["text"] in sung and ord(c["text"]) > 900)
        # 90 mm of paper stand for 360 px (CSS px at arm's length; W3C, CSS Values 4).
        assert smallest / (90 * PT) * 360 >= 16


def test_a_phone_page_is_a_whole_hymn() -> None:
    with opened(form="phone") as pdf:
        texts = [squeezed(p.extract_text()) for p in pdf.pages]
        holding = [i for i, t in enumerate(texts) if squeezed(DENSE.title) in t and "Tone" in t]
        assert len(holding) >= 1
        last = texts[holding[-1]]
        ends = squeezed(words_only_lines(DENSE)[-1].split()[-1])[:4]
        assert ends in last


@given(st.integers(1, 200))
def test_a_folded_stack_reads_in_order(count: int) -> None:
    # Fold a stack by hand: sheets lie in each other, the outer one first (common practice).
    sides = sheets(count)
    assert len(sides) % 2 == 0
    left, right = [], []
    for front, back in zip(sides[::2], sides[1::2], strict=True):
        left += [front[1], back[0]]
        right += [front[0], back[1]]
    order = left + right[::-1]
    # From the middle outward the right halves run backward, sheet by sheet.
    assert [p for p in order if p is not None] == list(range(count))


def test_folded_pages_can_be_read_and_name_the_booklet() -> None:
    data = booklet_pdf(replace(BOOKLET, form="folded"), TONES)
    reader = pypdf.PdfReader(io.BytesIO(data))
    assert reader.metadata is not None
    assert reader.metadata.title == BOOKLET.title
    with opened(form="folded") as pdf:
        text = squeezed("".join(p.extract_text() for p in pdf.pages))
        assert squeezed(GREEK.title) in text


def _joined(phrases: tuple[Phrase, ...]) -> Phrase:
    return replace(phrases[-1], syllables=tuple(s for p in phrases for s in p.syllables))


def test_pages_are_more_than_half_full_but_the_last() -> None:
    # Long phrases too: in large print the lines of one may take half a page in two readings.
    wide = replace(LONG, phrases=tuple(_joined(LONG.phrases[k : k + 3]) for k in range(0, 18, 3)))
    both: dict[str, Any] = {"readings": ("staff", "neumes")}
    two = both | {"large": True, "entries": (Entry("hymn", "Wide", wide),)}
    for changes in ({}, {"large": True}, {"paper": "letter"}, both, two):
        with opened(**changes) as pdf:
            for page in pdf.pages[1:-1]:
                body = [c for c in page.chars if c["bottom"] < page.height - 22 * PT]
                assert max(c["bottom"] for c in body) > page.height / 2, page.page_number


def test_slides_hold_whole_systems_and_no_notes() -> None:
    with opened(form="slides") as pdf:
        text = "".join(p.extract_text() for p in pdf.pages)
        assert "Prokeimenon" not in text
        options = StaffOptions(width_mm=230, staff_mm=10.5, words_pt=26)
        assert len(pdf.pages) <= 1 + 2 + sum(
            len(lines(h, TONES, options)) for h in (LONG, GREEK, DENSE)
        )


def test_large_print_and_slides_do_not_go_together() -> None:
    with pytest.raises(ChantError, match="large print"):
        booklet_pdf(replace(BOOKLET, form="slides", large=True), TONES)
    with pytest.raises(ChantError, match="no form"):
        booklet_pdf(replace(BOOKLET, form="scroll"), TONES)  # type: ignore[arg-type]


def model(tone: int) -> Hymn:
    branch = TONES.default_branch(tone)
    line = (branch.base, branch.base + 1, branch.base + 2, branch.base + 1, branch.final[0])
    syllables = tuple(
        Syllable(t, notes=(Note(d),))
        for t, d in zip(["Sing", "un", "to", "the", "Lord"], line, strict=True)
    )
    return Hymn(f"Model {tone}", tone=tone, phrases=(Phrase(syllables, cadence="final"),) * 4)


@pytest.mark.parametrize("tone", range(1, 9))
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_handout_is_one_page(tone: int, paper: str) -> None:
    data = handout_pdf(Handout(model(tone), "Chapel of the Garden", paper=paper), TONES)
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        assert len(pdf.pages) == 1
        text = pdf.pages[0].extract_text()
        assert f"Tone {tone}" in text
        assert f"Model {tone}" in text
        assert "Intonation" in text
        for char in pdf.pages[0].chars:
            assert char["x0"] >= 0
            assert char["x1"] <= pdf.pages[0].width


def test_ladder_steps_are_drawn_to_their_size() -> None:
    drawn = ladder(TONES.default_branch(1), TONES, mm_per_morion=2.0)
    root = etree.fromstring(drawn.svg.encode())
    rungs = sorted(
        {float(e.get("y1")) for e in root.iter("{*}line")
         if e.get("y1") == e.get("y2") and float(e.get("x2")) - float(e.get("x1")) > 10},
        reverse=True,
    )  # fmt: skip
    steps = [(a - b) / 2.0 for a, b in pairwise(rungs)]
    # Diatonic from ni: 12 10 8 12 12 moria (Patriarchal committee of 1881).
    assert [round(s, 3) for s in steps] == [12, 10, 8, 12, 12]


def test_ladder_text_stays_inside(tmp_path: Path) -> None:
    for branch in TONES.branches.values():
        drawn = ladder(branch, TONES)
        root = etree.fromstring(drawn.svg.encode())
        for text in root.iter("{*}text"):
            assert 0 <= float(text.get("y")) <= drawn.height_mm
            assert 0 <= float(text.get("x")) <= drawn.width_mm


def test_handout_needs_a_melody_and_is_written_whole(tmp_path: Path) -> None:
    with pytest.raises(ChantError, match="no melody"):
        handout_pdf(Handout(Hymn("Words", tone=1, phrases=(Phrase(text="Sing"),))), TONES)
    path = write_handout(Handout(model(4)), tmp_path / "x.pdf", TONES)
    assert path.read_bytes().startswith(b"%PDF")
