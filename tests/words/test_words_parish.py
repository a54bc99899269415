"""A parish's own readings, levels and headings win; mistakes in them are told with their place."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from chantwright.errors import ChantError
from chantwright.score import Hymn, Phrase
from chantwright.words import divide, read_words


def own(tmp_path: Path, rows: str) -> tuple[Path]:
    path = tmp_path / "words.toml"
    path.write_text(rows, encoding="utf-8")
    return (path,)


def test_a_parish_reading_wins(tmp_path: Path) -> None:
    paths = own(tmp_path, '[[word]]\nid = "alleluia"\nread = "al-le-lu-i-a:00100"\n')
    (word,) = read_words("Alleluia", overrides=paths).words
    assert (word.reading, word.source) == ("Al-le-lu-i-a:00100", "parish")
    assert read_words("Alleluia").words[0].reading == "Al-le-lu-ia:0010"


def test_a_parish_word_that_no_list_knows(tmp_path: Path) -> None:
    assert read_words("Zographouia").words[0].source == "guess"
    paths = own(tmp_path, '[[word]]\nid = "zographouia"\nread = "zo-gra-phou-i-a:00100"\n')
    text = read_words("Zographouia and zographouia", overrides=paths)
    assert [w.reading for w in text.words] == [
        "Zo-gra-phou-i-a:00100",
        "and:2",
        "zo-gra-phou-i-a:00100",
    ]
    assert text.guessed == ()


def test_the_parish_list_is_used_by_divide(tmp_path: Path) -> None:
    paths = own(tmp_path, '[[word]]\nid = "heaven"\nread = "heaven:1"\n')
    hymn = divide(Hymn(phrases=(Phrase(text="O heaven"),)), overrides=paths)
    assert [s.text for s in hymn.phrases[0].syllables] == ["O", "heaven"]


def test_a_file_changed_on_the_way_is_read_again(tmp_path: Path) -> None:
    paths = own(tmp_path, '[[word]]\nid = "heaven"\nread = "heaven:1"\n')
    assert len(read_words("heaven", overrides=paths).words[0].syllables) == 1
    paths[0].write_text("# nothing here any more\n", encoding="utf-8")
    os.utime(paths[0], ns=(1, 1))
    assert len(read_words("heaven", overrides=paths).words[0].syllables) == 2


def test_the_teachers_mark_wins_over_the_parish(tmp_path: Path) -> None:
    paths = own(tmp_path, '[[word]]\nid = "heaven"\nread = "heaven:1"\n')
    (word,) = read_words("heav·en", overrides=paths).words
    assert (word.reading, word.source) == ("heav-en:10", "teacher")


def test_a_parish_level_wins(tmp_path: Path) -> None:
    line = "Lord, I cry to Thee and live"
    assert read_words(line).words[1].stress == (0,)
    paths = own(tmp_path, '[[level]]\nid = "parish strong"\nlevel = 5\nwords = ["i"]\n')
    assert read_words(line, overrides=paths).words[1].stress == (1,)


def test_a_parish_heading(tmp_path: Path) -> None:
    rows = '[[heading]]\nid = "ours"\nkind = "opening"\nwords = ["women"]\n'
    word = read_words("Women: Praise the Lord", overrides=own(tmp_path, rows)).words[0]
    assert (word.text, word.rubric) == ("Praise", "Women:")


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ('[[word]]\nid = "heaven"\nread = "hea-vn:10"\n', "do not spell"),
        ('[[word]]\nid = "heaven"\nread = "heav-en:1"\n', "is not a reading"),
        ('[[word]]\nid = "heaven"\nread = "heav-en:13"\n', "is not a reading"),
        ('[[word]]\nid = "heaven"\nread = "heav-en"\n', "is not a reading"),
        ('[[word]]\nid = "heaven"\nread = "heav-en:10"\nalso = "heaven:1"\n', "must be a list"),
        ('[[level]]\nid = "article"\nlevel = 9\n', "0 to 5"),
        ('[[level]]\nid = "article"\nwords = "the"\n', "must be a list"),
        ('[[heading]]\nid = "verse"\nkind = "loud"\n', "not a kind of heading"),
        ('[[price]]\nid = "comma"\nprice = "dear"\n', "must be a number"),
        ("[[word]\n", "words.toml"),
    ],
)
def test_a_mistake_in_a_parish_file_is_told(tmp_path: Path, rows: str, said: str) -> None:
    with pytest.raises(ChantError, match=said) as caught:
        read_words("heaven", overrides=own(tmp_path, rows))
    assert "words.toml" in str(caught.value)
