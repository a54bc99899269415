"""One phrase at a time: other ways to sing it, locks, answers, the marked word, and reasons."""

from __future__ import annotations

from dataclasses import replace

import pytest
from marked import hymn, psalms

from chantwright.errors import ChantError
from chantwright.score import Hymn, hymnfile
from chantwright.setting import Books, Setting, reasons, set_hymn, set_phrase, tell, why
from chantwright.tones import Tones

_PSALM = psalms()[0][1]


def _marked(words: Hymn, place: int, **marks: str) -> Hymn:
    phrases = list(words.phrases)
    phrases[place] = replace(phrases[place], **marks)  # type: ignore[arg-type]
    return replace(words, phrases=tuple(phrases))


def _blocks(text: str) -> dict[str, str]:
    """Words line -> the lines under it, of a hymn file."""
    blocks: dict[str, str] = {}
    name = ""
    for line in text.splitlines():
        if line.startswith(("notes:", "ison:", "stress:")):
            blocks[name] += line + "\n"
        else:
            name = line
            blocks[name] = ""
    return blocks


@pytest.mark.parametrize("tone", range(1, 9))
def test_five_ways_for_a_phrase_and_the_others_keep_every_byte(
    tone: int, books: Books, tones: Tones
) -> None:
    done = set_hymn(hymn(_PSALM, tone), tones, books, ison="moving")[0].hymn
    before = _blocks(hymnfile.dumps(done))
    for place, name in ((1, "p2"), (3, "p4"), (6, "p7")):
        ways = set_phrase(done, name, tones, books, count=5, ison="moving")
        assert len(ways) == 5
        sung = {tuple(s.notes for s in w.hymn.phrases[place].syllables) for w in ways}
        assert len(sung) == 5
        for way in ways:
            after = _blocks(hymnfile.dumps(way.hymn))
            words = list(before)
            assert list(after) == words
            changed = [w for w in words if after[w] != before[w]]
            assert all(w.startswith(done.phrases[place].words.split()[0]) for w in changed)
            assert way.hymn.phrases[:place] == done.phrases[:place]
            assert way.hymn.phrases[place + 1 :] == done.phrases[place + 1 :]


def test_a_phrase_that_is_not_there_is_said(books: Books, tones: Tones) -> None:
    done = set_hymn(hymn(_PSALM, 1), tones, books)[0].hymn
    with pytest.raises(ChantError, match="no phrase “p99”"):
        set_phrase(done, "p99", tones, books)
    with pytest.raises(ChantError, match="without a melody"):
        set_phrase(hymn(_PSALM, 1), "p2", tones, books)


# ------------------------------------------------------------------ phrases that answer one another


_COLA = (
    "O 'give 'thanks un-to the 'God of 'gods, | for his 'mer-cy en-'dur-eth for 'ev-er. || "
    "O 'give 'thanks un-to the 'Lord of 'lords, | for his 'love a-'bid-eth for 'ev-er. |||"
)


@pytest.mark.parametrize("tone", range(1, 9))
def test_parallel_words_begin_and_end_alike(tone: int, books: Books, tones: Tones) -> None:
    # like cola usually get the same music: Arvanitis on heirmoi and stichera
    done = set_hymn(hymn(_COLA, tone), tones, books)[0]
    assert done.answers[2] == (0, "parallel")
    one, two = done.figures[0], done.figures[2]
    assert (one[0].formula, one[-1].formula) == (two[0].formula, two[-1].formula)
    assert done.answers[1] == (None, "")


@pytest.mark.parametrize(
    "third", ["and 'sing of thy 'might-y 'arm", "and 'tell of thy 'won-drous and 'might-y 'arm"]
)
@pytest.mark.parametrize("tone", range(1, 9))
def test_a_phrase_marked_the_same_takes_up_the_music(
    tone: int, third: str, books: Books, tones: Tones
) -> None:
    first = "O 'Lord, I will 'praise thy 'name, | in the 'morn-ing 'ear-ly; ||"
    words = hymn(f"{first} {third}, | for thou 'hear-est 'me. |||", tone)
    free = set_hymn(words, tones, books)[0]
    bound = set_hymn(_marked(words, 2, same_as="p1"), tones, books)[0]
    assert free.answers[2] == (None, "")
    assert bound.answers[2] == (0, "marked")
    one, two = bound.figures[0], bound.figures[2]
    assert (one[0].formula, one[-1].formula) == (two[0].formula, two[-1].formula)
    if len(words.phrases[0].syllables) == len(words.phrases[2].syllables):
        a, b = ([s.notes for s in bound.hymn.phrases[i].syllables] for i in (0, 2))
        assert a == b


def test_a_mark_on_a_later_phrase_is_said(books: Books, tones: Tones) -> None:
    with pytest.raises(ChantError, match="same as: p4"):
        set_hymn(_marked(hymn(_PSALM, 1), 2, same_as="p4"), tones, books)


# ------------------------------------------------------------------ the peak


def _tops(done: Setting) -> list[list[int]]:
    return [[max(n.degree for n in s.notes) for s in p.syllables] for p in done.hymn.phrases]


def test_the_marked_word_is_the_highest(books: Books, tones: Tones) -> None:
    # the line rises to its main word (common practice)
    reached = 0
    for tone in range(1, 9):
        words = _marked(hymn(_PSALM, tone), 4, peak="prayer")
        tops = _tops(set_hymn(words, tones, books)[0])
        place = [s.text for s in words.phrases[4].syllables].index("prayer")
        high = max(t for part in tops for t in part)
        reached += tops[4][place] == high
        assert high - tops[4][place] <= 1
    assert reached >= 7


def test_a_peak_that_is_no_word_of_its_phrase_is_said(books: Books, tones: Tones) -> None:
    with pytest.raises(ChantError, match="“mountain” is not in this phrase"):
        set_hymn(_marked(hymn(_PSALM, 1), 4, peak="mountain"), tones, books)
    twice = _marked(_marked(hymn(_PSALM, 1), 4, peak="prayer"), 0, peak="cry")
    with pytest.raises(ChantError, match="two words"):
        set_hymn(twice, tones, books)


def test_the_compass_that_was_asked_for(books: Books, tones: Tones) -> None:
    for tone, limits in ((1, (1, 4)), (4, (1, 4)), (8, (0, 3))):
        done = set_hymn(hymn(_PSALM, tone), tones, books, compass=limits)[0].hymn
        degrees = [n.degree for p in done.phrases for s in p.syllables for n in s.notes]
        out = sum(not limits[0] <= d <= limits[1] for d in degrees)
        free = set_hymn(hymn(_PSALM, tone), tones, books)[0].hymn
        wild = [n.degree for p in free.phrases for s in p.syllables for n in s.notes]
        assert out < sum(not limits[0] <= d <= limits[1] for d in wild)
        assert out <= 4
    with pytest.raises(ChantError, match="too narrow"):
        set_hymn(hymn(_PSALM, 1), tones, books, compass=(1, 2))


# ------------------------------------------------------------------ reasons


def test_every_note_can_answer_why(books: Books, tones: Tones) -> None:
    for tone in (2, 5, 8):
        done = set_hymn(hymn(_PSALM, tone), tones, books)[0]
        book = books.book(done.hymn.branch or "")
        told = list(reasons(done, books))
        syllables = [s for p in done.hymn.phrases for s in p.syllables]
        assert [r.syllable for r in told] == [s.id for s in syllables]
        for reason, syllable in zip(told, syllables, strict=True):
            assert reason.slot in book.formula(reason.formula).row["slots"].split()
            names = reason.slot.partition("=")[2].split("+")
            assert len(names) == len(syllable.notes)
            if "@" not in names:
                assert reason.text.endswith(reason.slot.partition("=")[2].replace(":.5", ":1/2"))
            assert reason.formula in tell(reason)
        paid = sum(price for r in told for _, _, price in r.paid)
        assert paid <= sum(p for part in done.terms for _, p in part) + 1e-9
    one = why(done, books, "p2s3n1")
    assert one.syllable == "p2s3"
    with pytest.raises(ChantError, match="p9s9"):
        why(done, books, "p9s9")


def test_a_kept_melody_says_so(books: Books, tones: Tones) -> None:
    done = set_hymn(hymn(_PSALM, 3), tones, books)[0].hymn
    again = set_phrase(done, "p2", tones, books, count=1)[0]
    assert "kept" in tell(why(again, books, "p1s1"))
    assert why(again, books, "p2s1").formula
