"""A formula row on trial."""

from __future__ import annotations

from pathlib import Path

import pytest
from marked import syllables

from chantwright.errors import ChantError
from chantwright.score import Phrase
from chantwright.setting import Books, audition, load_books
from chantwright.setting.book import book_rows
from chantwright.tones import Tones

_WORDS = {
    "1": "have 'mer-cy on thy 'flock",
    "10": "have 'mer-cy on thy 'peo-ple",
    "100": "have 'mer-cy on thy 'ser-vants now",
    "11": "have 'mer-cy at 'all 'times",
}


@pytest.mark.parametrize("branch", ["t1.heirmologic", "t6.heirmologic", "t8.heirmologic"])
def test_every_row_can_be_heard_on_some_words(branch: str, books: Books, tones: Tones) -> None:
    rows = book_rows()
    for role, group in books.book(branch).formulas.items():
        formula = group[-1]
        shape = formula.shape if formula.shape in _WORDS else "10"
        tried = None
        tail = _WORDS[shape].rsplit(" thy " if shape != "11" else " at ")[-1]
        feet = (_WORDS[shape], f"'Lord, 'hear thy {tail}", f"'Lord, 'hear us and {tail}")
        for words in (*feet, *(f"'Hear me, O my 'God, and {w}" for w in feet)):
            try:
                tried = audition(rows, formula.id, Phrase(syllables(words)), tones)
                break
            except ChantError as exc:
                assert "cannot be laid" in exc.what
        if role in ("medial", "full", "final", "long"):
            assert tried is not None, formula.id
        if tried is not None:
            assert formula.id in {f.formula for part in tried.setting.figures for f in part}
            assert len(tried.setting.hymn.phrases) == 1
            assert tried.findings == ()


def test_a_changed_row_sounds_at_once_and_ours_stays(tones: Tones, tmp_path: Path) -> None:
    rows = book_rows()
    words = Phrase(syllables(_WORDS["10"]))
    tried = audition(
        rows, "t1.full.pa.10a", words, tones, changes={"slots": "w*=@ S=ga:.5+vou:.5+pa w=pa:2"}
    )
    assert [n.degree for n in tried.setting.hymn.phrases[0].syllables[-2].notes] == [3, 2, 1]
    assert load_books().book("t1.heirmologic").formula("t1.full.pa.10a").figure != (
        tried.formula.figure
    )
    path = tmp_path / "formulas.toml"
    path.write_text(tried.row_text, encoding="utf-8")
    kept = load_books([path]).book("t1.heirmologic").formula("t1.full.pa.10a")
    assert kept.slots == tried.formula.slots
    assert kept.origin == "parish"


def test_a_bad_row_is_said_in_the_words_of_the_trade(tones: Tones) -> None:
    words = Phrase(syllables(_WORDS["10"]))
    tried = audition(
        book_rows(), "t1.full.pa.10a", words, tones, changes={"slots": "w*=@ S=ga+ni' w=pa"}
    )
    told = " ".join(f.sentence for f in tried.findings)
    assert "leaps more than a fourth" in told
    assert "holds its last syllable" in told
    with pytest.raises(ChantError, match="not a note"):
        audition(book_rows(), "t1.full.pa.10a", words, tones, changes={"slots": "S=xx w=pa:2"})
    with pytest.raises(ChantError, match="no formula “mine”"):
        audition(book_rows(), "mine", words, tones)
    with pytest.raises(ChantError, match="cannot be laid"):
        audition(book_rows(), "t1.full.pa.11a", words, tones)
    new = audition(
        book_rows(),
        "mine",
        words,
        tones,
        changes={"book": "t1.heirmologic", "role": "full", "shape": "10", "slots": "S=vou w=pa:2"},
    )
    assert new.setting.figures[0][-1].formula == "mine"
