"""The examples of the page on the hymn file are run."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from chantwright.errors import ChantError
from chantwright.score import CADENCES, ENDINGS, MELODY_SOURCES, Hymn
from chantwright.score.hymnfile import dumps, loads
from chantwright.score.tokens import HEADER_KEYS, PHRASE_KEYS

PAGE = (Path(__file__).parents[2] / "docs" / "hymn-file.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(\w+)\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
HYMNS = [text for kind, text in BLOCKS if kind == "hymn"]
WRONG = list(
    zip(
        [text for kind, text in BLOCKS if kind == "wrong"],
        [text for kind, text in BLOCKS if kind == "says"],
        strict=True,
    )
)


@pytest.mark.parametrize("text", HYMNS)
def test_every_example_is_a_hymn(text: str) -> None:
    hymn = loads(text)
    assert hymn.phrases
    assert loads(dumps(hymn)) == hymn


@pytest.mark.parametrize(("text", "says"), WRONG)
def test_every_slip_is_met_as_the_page_says(text: str, says: str) -> None:
    with pytest.raises(ChantError) as caught:
        loads(text, file="psalm.txt")
    assert str(caught.value) == says.strip()


def test_the_examples_mean_what_the_page_says() -> None:
    plain, barred, headed, noted, rare, signs = (loads(text) for text in HYMNS)
    assert [p.verse_start for p in plain.phrases] == [False, False, True]
    assert [p.cadence for p in barred.phrases] == ["medial", "full", "final"]
    # The header example shows every key: no field is left as it is by default.
    default = Hymn()
    shown = [f.name for f in fields(Hymn) if getattr(headed, f.name) != getattr(default, f.name)]
    assert len(shown) == len(HEADER_KEYS) - 1 + 1  # all but language (en), and the phrases
    assert noted.is_set
    assert rare.phrases[0].remarks == ()
    assert rare.phrases[1].remarks == ("from here the men alone",)
    assert rare.phrases[1].cadence == "long"
    assert [p.words for p in signs.phrases] == [
        "Title: a name written on the cross",
        "# forty",
        "loving-kindness at twi-light",
    ]


def test_the_page_names_every_key_and_choice() -> None:
    for key in HEADER_KEYS:
        assert f"| `{key}` |" in PAGE
    for key in PHRASE_KEYS:
        assert f"**{key}**" in PAGE
    for choice in (*CADENCES, *ENDINGS, *MELODY_SOURCES):
        assert f"`{choice}`" in PAGE
