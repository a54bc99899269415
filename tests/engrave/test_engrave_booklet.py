from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pdfplumber
import pytest
from hymns_for_print import DENSE, GREEK, PSALM

from chantwright.engrave import Booklet, Entry, booklet_pdf, words_only_lines, write_booklet
from chantwright.engrave.forms import FormName
from chantwright.errors import ChantError
from chantwright.score import Hymn, Phrase
from chantwright.tones import load_tones

TONES = load_tones()
PT = 72 / 25.4

WORDS_ALONE = Hymn(
    title="O taste and see",
    phrases=(
        Phrase(text="O taste and see that the Lord is good:"),
        Phrase(text="blessed is the man that trusteth in him.", verse_start=True),
    ),
)
ORDER = (
    Entry("section", "Great Vespers", item_text="Saturday 28 November 2026"),
    Entry("hymn", PSALM.title, PSALM, item_text="Kathisma", rubric="Right choir"),
    Entry("note", "Prokeimenon", rubric="Words not yet found"),
    Entry("hymn", GREEK.title, GREEK),
    Entry("section", "Orthros"),
    Entry("hymn", DENSE.title, DENSE),
    Entry("hymn", WORDS_ALONE.title, WORDS_ALONE),
)
BOOKLET = Booklet(
    title="A Book for the Stand",
    parish="Chapel of the Garden",
    service="Great Vespers · Orthros",
    date_text="Saturday 28 November 2026",
    tone_text="Tone 1",
    entries=ORDER,
    notes=("A proposal until the priest confirms it.",),
)


def opened(booklet: Booklet) -> Any:
    return pdfplumber.open(io.BytesIO(booklet_pdf(booklet, TONES)))


@pytest.fixture(scope="module")
def pdf() -> Any:
    with opened(BOOKLET) as found:
        yield found


def text_of(page: Any) -> str:
    """Text in the order it was set, spaces and line ends left out."""
    return "".join(c["text"] for c in page.chars).replace(" ", "")


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


def test_every_word_stands_in_order(pdf: Any) -> None:
    whole = "".join(text_of(p) for p in pdf.pages)
    at = 0
    for hymn in (PSALM, GREEK, DENSE):
        at = whole.index(squeezed(hymn.title), at)  # in the table of contents
    for hymn in (PSALM, GREEK, DENSE):
        at = whole.index(squeezed(hymn.title), at + 1)
        for phrase in hymn.phrases:
            for syllable in phrase.syllables:
                at = whole.index(syllable.text, at) + len(syllable.text)
    for line in words_only_lines(WORDS_ALONE):
        if line:
            at = whole.index(squeezed(line), at)
    assert whole.index("Aproposaluntilthepriestconfirmsit.", at)


def test_words_and_letters_do_not_overlap_on_paper(pdf: Any) -> None:
    """Ink of neighbours on one baseline never runs into each other, as another reader sees it."""
    pairs = 0
    for page in pdf.pages:
        rows: dict[tuple[float, float], list[Any]] = {}
        for c in page.chars:
            if c["text"].strip():
                rows.setdefault((round(c["bottom"], 1), round(c["size"], 1)), []).append(c)
        for row in rows.values():
            row.sort(key=lambda c: c["x0"])
            for one, after in pairwise(row):
                pairs += 1
                # Letters of one word may be kerned by a little.
                assert after["x0"] - one["x1"] > -0.14 * one["size"], (one["text"], after["text"])
    assert pairs > 1000


def test_fonts_are_embedded(pdf: Any) -> None:
    found = {c["fontname"] for p in pdf.pages for c in p.chars}
    assert found
    assert all(re.fullmatch(r"[A-Z]{6}\+LibertinusSerif-.*", name) for name in found)
    names = 0
    for page in pdf.pages:
        fonts = page.page_obj.resources.get("Font", {})
        for ref in fonts.values():
            for part in ref.resolve()["DescendantFonts"]:
                descriptor = part.resolve()["FontDescriptor"].resolve()
                assert {"FontFile", "FontFile2", "FontFile3"} & set(descriptor)
                names += 1
    assert names


def test_tagged_with_title_and_language(pdf: Any) -> None:
    # ISO 14289-1 (PDF/UA-1): marked, a structure tree, a language, the title shown, its own id.
    catalog = pdf.doc.catalog
    assert catalog["MarkInfo"]["Marked"] is True
    assert "StructTreeRoot" in catalog
    assert catalog["Lang"] == b"en"
    assert catalog["ViewerPreferences"]["DisplayDocTitle"] is True
    assert b"pdfuaid" in catalog["Metadata"].resolve().get_data()
    assert pdf.metadata["Title"] == BOOKLET.title


def test_contents_name_the_right_pages(pdf: Any) -> None:
    lines = pdf.pages[0].extract_text().splitlines()  # a short order stands on the cover
    checked = 0
    for title in (PSALM.title, "Prokeimenon", GREEK.title, DENSE.title, WORDS_ALONE.title):
        line = next(x for x in lines if x.startswith(title))
        number = int(line.split()[-1])
        assert squeezed(title) in text_of(pdf.pages[number - 1])
        assert pdf.pages[number - 1].extract_text().splitlines()[-1] == str(number)
        checked += 1
    assert checked == 5


def test_heading_says_tone_base_and_sounding_pitch(pdf: Any) -> None:
    page = next(p for p in pdf.pages[1:] if squeezed(PSALM.title) in text_of(p))
    text = " ".join(page.extract_text().split())
    for part in (
        "Tone 1 · Ἦχος πρῶτος",
        "Base Pa sounds as D3 (re), 146.8 Hz",
        "About 120 beats a minute",
        "ison begins on Pa",
        "Intonation",
        "Words: Psalm 1, King James.",
        "Melody: formulas from memory; set by rule, to be reviewed by a chanter.",
        "Right choir",
        "Left choir",
    ):
        assert part in text, part


@pytest.mark.parametrize(("paper", "width", "height"), [("a4", 210, 297), ("letter", 215.9, 279.4)])
def test_paper(paper: Any, width: float, height: float) -> None:
    with opened(replace(BOOKLET, paper=paper)) as found:
        for page in found.pages:
            assert page.width == pytest.approx(width * PT, abs=0.5)
            assert page.height == pytest.approx(height * PT, abs=0.5)
            for c in page.chars:
                assert 0 < c["x0"] < c["x1"] < page.width
                assert 0 < c["top"] < c["bottom"] < page.height


def sizes(booklet: Booklet, wanted: str) -> set[float]:
    with opened(booklet) as found:
        page = next(p for p in found.pages[1:] if squeezed(PSALM.title) in text_of(p))
        row = [c for c in page.chars if c["text"].strip()]
        text = "".join(c["text"] for c in row)
        at = text.index(wanted)
        return {round(c["size"], 1) for c in row[at : at + len(wanted)]}


def test_large_print_has_words_of_18_points_and_more() -> None:
    # 18 points is the usual large-print size of associations for the blind (common practice).
    assert min(sizes(replace(BOOKLET, large=True), "thatwalkethnotin")) >= 18
    assert min(sizes(BOOKLET, "thatwalkethnotin")) >= 12


def colours(booklet: Booklet) -> set[Any]:
    with opened(booklet) as found:
        things = [
            t for p in found.pages for kind in (p.chars, p.rects, p.lines, p.curves) for t in kind
        ]
        marks = {t.get("non_stroking_color") for t in things}
        return marks | {t.get("stroking_color") for t in things if t.get("stroke")}


def test_black_only_is_black_only() -> None:
    def grey(colour: Any) -> bool:
        return colour is None or isinstance(colour, int | float) or len(set(colour)) == 1

    def dark(colour: Any) -> bool:
        return colour is None or (max(colour) if isinstance(colour, tuple) else colour) == 0

    printed = colours(replace(BOOKLET, black=True))
    assert all(grey(c) and dark(c) for c in printed), printed
    assert not all(grey(c) for c in colours(BOOKLET))


NASTY = (
    '#panic("no")',
    "$ 1/0 $ @here <there> \\ ` ``` // /* *bold* _it_ = Head",
    '"}] {" #sys.inputs',
    "<svg onload='x'>&amp;</svg>",
    "line\n\nend",
)


def test_nothing_written_by_users_is_taken_for_a_command() -> None:
    entries = []
    for text in NASTY:
        first = replace(PSALM.phrases[0], rubric=text)
        words = (replace(first.syllables[0], text=text), *first.syllables[1:])
        hymn = replace(PSALM, title=text, words_source=text, melody_source=text)
        hymn = replace(hymn, phrases=(replace(first, syllables=words),))
        entries.append(Entry("hymn", text, hymn, item_text="x" + text, rubric=text))
        entries.append(Entry("note", text, rubric=text))
        entries.append(Entry("section", text, item_text=text))
    nasty = Booklet(NASTY[1], NASTY[0], NASTY[2], NASTY[3], NASTY[4], entries=tuple(entries))
    with opened(nasty) as found:
        whole = "".join(text_of(p) for p in found.pages)
        assert found.metadata["Title"] == NASTY[1]
    for text in NASTY:
        # cover or contents, heading, rubrics, words under the notes, sources
        assert whole.count(squeezed(text)) >= 8, text


@pytest.mark.parametrize(
    "title", ["", "\x00bell\x07", "a\ue000b", "☦ שלום", "x" * 500, "half \ud800 letter"]
)
def test_strange_titles_print(title: str) -> None:
    hymn = replace(PSALM, title=title, phrases=PSALM.phrases[:1])
    for count in (1, 2):
        with opened(Booklet(title, entries=(Entry("hymn", title, hymn),) * count)) as found:
            assert len(found.pages) >= count  # of two a cover, and the hymns
            for page in found.pages:
                assert all(c["x1"] <= page.width for c in page.chars)


@pytest.mark.parametrize("field", ["title", "subtitle", "parish", "service", "date_text"])
def test_a_letter_without_a_font_on_the_cover_is_named(field: str) -> None:
    text: Any = {field: "Sunday 日"}
    with pytest.raises(ChantError, match=r"“日” \(U\+65E5\), which stands in the ") as caught:
        booklet_pdf(replace(BOOKLET, **text), TONES)
    assert caught.value.where.word == "Sunday 日"
    assert "Leave it out" in caught.value.remedy


@pytest.mark.parametrize(
    "entry",
    [
        Entry("hymn", "Glad 日", PSALM),
        Entry("section", "Vespers 日"),
        Entry("note", "Reading", rubric="read by 日"),
        Entry("hymn", "Plain", Hymn(phrases=(Phrase(text="O 日 light"),))),
        Entry("hymn", "Sung", replace(PSALM, phrases=(replace(PSALM.phrases[0], rubric="日"),))),
    ],
    ids=lambda e: e.title,
)
def test_an_entry_with_a_letter_without_a_font_is_named_or_left_out(entry: Entry) -> None:
    booklet = replace(BOOKLET, entries=(entry, Entry("hymn", "Fine", PSALM)))
    with pytest.raises(ChantError, match="no letter “日”") as caught:
        booklet_pdf(booklet, TONES)
    assert caught.value.where.file == entry.title
    told: list[ChantError] = []
    with pdfplumber.open(io.BytesIO(booklet_pdf(booklet, TONES, leave=told.append))) as found:
        whole = "".join(text_of(p) for p in found.pages)
    assert [str(e) for e in told] == [str(caught.value)]
    assert squeezed("Not printed: our fonts have no letter “?” (U+65E5)") in whole
    assert squeezed(entry.title.replace("日", "?")) in whole
    assert squeezed(PSALM.phrases[-1].words) in whole
    assert "日" not in whole


def test_an_empty_booklet_and_an_empty_hymn_print() -> None:
    with opened(Booklet("Nothing")) as found:
        assert "Nothing" in found.pages[0].extract_text()
    with opened(Booklet("x", entries=(Entry("hymn", "Later", Hymn()),))) as found:
        assert "Words not yet found" in found.pages[0].extract_text()


def test_written_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "book.pdf"
    seen: list[tuple[str, int, int]] = []
    made = write_booklet(BOOKLET, path, TONES, lambda *step: seen.append(step))
    assert made == path
    before = path.read_bytes()
    assert before.startswith(b"%PDF")
    assert [done for _, done, _ in seen] == list(range(1, len(ORDER) + 2))
    assert {total for _, _, total in seen} == {len(ORDER) + 1}
    broken = replace(BOOKLET, entries=(Entry("hymn", "Broken", replace(PSALM, branch="t9")),))
    with pytest.raises(ChantError, match="t9") as caught:
        write_booklet(broken, path, TONES)
    assert caught.value.where.file == "Broken"
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["book.pdf"]
    with pytest.raises(ChantError, match="folder"):
        write_booklet(BOOKLET, tmp_path / "none" / "book.pdf", TONES)
    with pytest.raises(ChantError, match="no paper"):
        write_booklet(replace(BOOKLET, paper="a3"), path, TONES)  # type: ignore[arg-type]


def test_no_system_stands_alone_and_pages_are_well_filled() -> None:
    long = replace(PSALM, phrases=PSALM.phrases[:4] * 4)
    entries = tuple(Entry("hymn", f"Hymn {n}", replace(long, title=f"Hymn {n}")) for n in range(6))
    with opened(replace(BOOKLET, entries=entries)) as found:
        pages = found.pages[1:-1]
        systems = []
        for page in pages:
            # The drone's reminder stands once over each system that goes on; count baselines of
            # words instead: sizes are unlike any other text.
            words = [
                c for c in page.chars if 12.2 < c["size"] < 12.8 and "Regular" in c["fontname"]
            ]
            systems.append(len({round(c["bottom"]) for c in words}))
            foot = max(c["bottom"] for c in page.chars if c["bottom"] < page.height - 60)
            if page is not pages[-1]:
                assert foot > 0.5 * page.height
        assert all(count >= 2 for count in systems)


@pytest.mark.parametrize("form", ["pages", "folded", "slides", "phone"])
def test_one_hymn_alone_begins_on_the_first_page(form: FormName) -> None:
    # Nobody hands out a sheet that only says the name of the next one (common practice).
    alone = Booklet(
        PSALM.title, parish="Chapel of the Garden", entries=(Entry("hymn", PSALM.title, PSALM),),
        date_text="26 November 2026", form=form,
    )  # fmt: skip
    with opened(alone) as found:
        first = found.pages[0].extract_text()
        assert found.metadata["Title"] == PSALM.title
        assert "Order" not in first.split()
        assert first.count(PSALM.title) == 1
        words = squeezed(PSALM.phrases[0].syllables[0].text)
        assert words in text_of(found.pages[0])
        if form == "pages":  # the name of the hymn stands under the head, that of the book in it
            assert "Chapel of the Garden" in first.splitlines()[0]
            assert "26 November 2026" in first.splitlines()[0]
    with opened(replace(alone, title="For the Eve of the Feast")) as found:
        assert form != "pages" or found.pages[0].extract_text().startswith("For the Eve")
