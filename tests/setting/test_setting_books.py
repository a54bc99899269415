"""Our formula books, the check, and a parish's own rows."""

from __future__ import annotations

from pathlib import Path

import pytest
from marked import hymn

from chantwright.errors import ChantError
from chantwright.setting import Book, Books, Formula, check_books, load_books, parse_slots, set_hymn
from chantwright.setting.check import shape_of
from chantwright.setting.slots import layings, shortest
from chantwright.tones import Tones


def _hymn_books(books: Books) -> list[Book]:
    return [b for b in books.books.values() if b.role("open")]


def _all(books: Books) -> list[Formula]:
    return [f for b in books.books.values() for group in b.formulas.values() for f in group]


def test_our_books_are_in_order() -> None:
    assert check_books() == []


def test_every_tone_has_a_book_for_its_first_heirmologic_branch(books: Books, tones: Tones) -> None:
    for tone in range(1, 9):
        assert tones.default_branch(tone).id in books.books


@pytest.mark.parametrize("role", ["medial", "full", "final", "long"])
def test_every_book_closes_on_any_last_accent(books: Books, role: str) -> None:
    # index by accent on the last, last but one, last but two: common practice, and the published
    # handbooks of formulas for English; two accents at the end are our own addition
    for book in _hymn_books(books):
        assert {f.shape for f in book.role(role)} >= {"1", "10", "100", "11"}, book.id


def test_strong_ends_have_more_than_one_final(books: Books) -> None:
    # English ends on a stress far oftener than Greek (discussions of English psalm pointing)
    for book in _hymn_books(books):
        ends = {f.figure for f in book.role("final") if f.shape == "1"}
        assert len(ends) >= 3, book.id


@pytest.mark.parametrize("style", ["heirmologic", "sticheraric"])
def test_every_tone_has_figures_of_its_own(books: Books, tones: Tones, style: str) -> None:
    # outlines that no other tone's book has, wherever they are pitched: tones that share a scale or
    # a base (2 and 6, 1 and 5, 3 and 7) are to be known by figures (common practice); the number
    # is ours
    where: dict[tuple[str, str], set[int]] = {}
    mine = {n: books.book(tones.default_branch(n, style).id) for n in range(1, 9)}
    for tone, book in mine.items():
        for role, group in book.formulas.items():
            for formula in group:
                where.setdefault((role, formula.figure), set()).add(tone)
    for tone, book in mine.items():
        own = {
            (role, f.figure)
            for role in ("open", "bridge", "picture", "medial", "full", "final")
            for f in book.role(role)
            if where[role, f.figure] == {tone}
        }
        assert len(own) >= 30, (tone, len(own))


def test_long_endings_of_the_tones_are_not_one_shape_moved(books: Books, tones: Tones) -> None:
    outlines = []
    for tone in range(1, 9):
        book = books.book(tones.default_branch(tone).id)
        outlines.append({f.figure for f in book.role("long") if f.shape in ("1", "10")})
    for one in range(8):
        for two in range(one + 1, 8):
            assert outlines[one] != outlines[two]
    assert len(set().union(*outlines)) >= 20


def test_no_row_claims_to_be_sure(books: Books) -> None:
    # no experienced chanter has approved them yet
    assert {f.conf for f in _all(books)} == {"medium", "low"}
    assert all(f.src for f in _all(books))


def test_added_weak_syllables_repeat_a_note(books: Books) -> None:
    # Wellesz, A History of Byzantine Music and Hymnography: one or two extra unaccented syllables
    # are sung on the repeated note; the figure itself stays
    for formula in _all(books):
        stretch = [i for i, s in enumerate(formula.slots) if s.stretches]
        if not stretch:
            continue
        index = stretch[0]
        count = sum(max(s.least, 1) for s in formula.slots)
        full = tuple(range(len(formula.slots)))
        more = tuple(sorted((*full, index)))
        assert full in layings(formula.slots, count)
        assert more in layings(formula.slots, count + 1)
        assert len(formula.slots[index].notes) == 1


@pytest.mark.parametrize(
    ("slots", "shape"),
    [
        ("w*=@ S=ga+vou:2", "1"),
        ("S=ga w=vou:2", "10"),
        ("S=ga w+=vou w=pa:2", "100"),
        ("S=ga w=vou w?=ni w=pa:2", "100"),
        ("S=ga:2 S=pa:2", "11"),
        ("a=ga a=pa:2", "any"),
    ],
)
def test_shape_of_a_cadence(slots: str, shape: str) -> None:
    assert shape_of(parse_slots(slots)) == shape


# ------------------------------------------------------------------ planted faults


def _row(body: str, row_id: str = "t1.full.pa.10a") -> str:
    return f'[[formula]]\nid = "{row_id}"\n{body}\n'


_FAULTS = [
    ("w=pa too short", _row('slots = "w*=@ S=ga+vou w=pa"\nend = "pa"'), "holds its last syllable"),
    ("leap of a fifth", _row('slots = "w*=@ S=ke+pa w=pa:2"'), "leaps more than a fourth"),
    ("outside", _row('slots = "w*=@ S=ni\'+zo w=pa:2"'), "leaps"),
    ("too low", _row('slots = "w*=@ S=ga+ke_ w=pa:2"'), "outside the compass"),
    ("wrong close", _row('slots = "w*=@ S=di+ga w=vou:2"'), "closes on vou"),
    ("wrong shape", _row('shape = "1"'), "its shape is 1"),
    ("ison count", _row('ison = "pa pa"'), "3 slots but 2 notes"),
    ("ison clash", _row('ison = "pa pa ni"'), "a step away"),
    ("false start", _row('start = "ke"'), "start"),
    ("false end", _row('end = "ke"'), "end"),
    ("bad slot", _row('slots = "w*=@ S=ga:x w=pa:2"'), "not a length"),
    ("stretch", _row('slots = "w*=ga+vou S=ga+vou w=pa:2"'), "stretches"),
    ("unknown book", _row('book = "t1.nothing"'), "does not exist"),
    ("unknown role", _row('role = "closing"'), "not a role"),
    ("weight", _row("weight = -1.0"), "below 0"),
    ("weight text", _row('weight = "much"'), "not a number"),
    ("nothing", _row('role = "bridge"\nshape = ""\nslots = "w*=ga"'), "no syllable at all"),
    ("open end", _row('slots = "w*=@ S=ga w=@:2"'), "must write its last note"),
    ("conf", _row('conf = "certain"'), "not a confidence"),
    ("twice", _row('slots = "w*=@ S=vou:.5+vou w=pa:2"'), "twice in a row"),
    (
        "same row",
        _row('book = "t1.heirmologic"\nrole = "bridge"\nslots = "S=ke w+=di"', "own.lift"),
        "the same bridge",
    ),
    ("price", '[[weight]]\nid = "flat"\nvalue = -1\n', "below 0"),
    ("unknown price", '[[weight]]\nid = "flatt"\nvalue = 1\n', "no such price"),
    ("book list", '[[book]]\nid = "t1.heirmologic"\nfull = ["vou"]\n', "lists vou for full closes"),
    ("book scale", '[[book]]\nid = "t1.heirmologic"\nscale = "enharmonic"\n', "is written in"),
    ("broken file", "[[formula]\n", "cannot be read"),
    ("after a close", _row('needs_after = "pa"'), "nothing follows a cadence"),
    ("after what", _row('needs_after = "loud"', "t1.bridge.run"), "needs_after"),
    ("after both", _row('needs_after = "stress weak"', "t1.bridge.run"), "a stress and a weak"),
    ("after outside", _row('needs_after = "pa\'"', "t1.bridge.run"), "waits for pa'"),
    ("after nothing", _row('needs_after = "held zo_"', "t1.bridge.run"), "can follow it"),
    ("half a beat", _row('slots = "w*=@ S=ga+vou:.5 w=pa:2"'), "lasts 3/2 beats"),
    ("off the beat", _row('slots = "w*=@ S=ga:.5+vou+pa:.5 w=pa:2"'), "between two beats"),
    ("picture in fast", _row('role = "picture"', "t1.bridge.run"), "belong to the middle style"),
    ("picture stretches", _row('slots = "S=ga+di w*=ga"', "t1m.picture.a"), "this one stretches"),
    (
        "picture too long",
        _row('slots = "S=ga+di w=ga w=ga S=ga+di w=ga w=ga w=ga S=ga+di"', "t1m.picture.a"),
        "covers 8 syllables",
    ),
    ("thin stress", _row('slots = "S=ga w=ga"', "t1m.picture.a"), "a stress has 1 beat"),
    (
        "thick stress",
        _row('slots = "S=ga:.5+di:.5+ga:.5+di:.5+ga:.5+di:.5+ga w=ga"', "t1m.picture.a"),
        "4 beat(s) and 7 notes",
    ),
    ("thick weak", _row('slots = "S=ga+di w=ga:.5+vou:.5+ga"', "t1m.picture.a"), "has 3 notes"),
    ("early", _row('slots = "S=ga w=ga S=ga+vou+ni w=pa:6"', "t1.long.pa.10a"), "an earlier one"),
    ("figured lead", _row('slots = "w=ga+vou S=ga+ni w=pa:6"', "t1.long.pa.10a"), "stay syllabic"),
    ("short end", _row('slots = "w*=@ S=ga+vou+ni w=pa:2"', "t1.long.pa.10a"), "is held 2 beats"),
]


@pytest.mark.parametrize(("name", "text", "says"), _FAULTS, ids=[f[0] for f in _FAULTS])
def test_a_planted_fault_is_found(tmp_path: Path, name: str, text: str, says: str) -> None:
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    found = check_books([path])
    assert any(says in f.sentence for f in found), [f.sentence for f in found]
    told = next(f for f in found if says in f.sentence)
    assert told.level in ("wrong", "doubtful")
    assert "own.toml" in str(told.where)


def test_taking_out_all_finals_of_a_shape_is_found(tmp_path: Path, books: Books) -> None:
    ids = [f.id for f in books.book("t3.heirmologic").role("final") if f.shape == "10"]
    path = tmp_path / "own.toml"
    path.write_text("\n".join(_row("off = true", i) for i in ids), encoding="utf-8")
    assert any("no final cadence of shape 10" in f.sentence for f in check_books([path]))


def _without(tmp_path: Path, formulas: list[Formula]) -> list[str]:
    path = tmp_path / "own.toml"
    path.write_text("\n".join(_row("off = true", f.id) for f in formulas), encoding="utf-8")
    return [f.sentence for f in check_books([path])]


def test_what_a_book_lacks_is_found(tmp_path: Path, books: Books) -> None:
    book = books.book("t6.heirmologic")
    single = [f for f in book.role("final") if shortest(f.slots) == 1]
    assert any("on a single syllable" in s for s in _without(tmp_path, single))
    broad = [f for f in book.role("full") if f.slots[-3:][0].notes[0].beats == 2]
    assert any("2 + 1 + 1" in s for s in _without(tmp_path, broad))
    cursive = [f for f in book.role("vfin") if f.shape == "any"]
    assert any("the last four syllables" in s for s in _without(tmp_path, cursive))
    heads = [f for f in book.role("open") if f.slots[0].kind == "S"]
    assert any("begin a phrase on a stress" in s for s in _without(tmp_path, heads))
    pictures = list(books.book("t6.sticheraric").role("picture"))
    assert any("the role picture" in s for s in _without(tmp_path, pictures))
    mediants = [f for f in books.book("t6.verses").role("vmed") if f.shape == "10"]
    assert any("no vmed cadence of shape 10" in s for s in _without(tmp_path, mediants))


# ------------------------------------------------------------------ the parish's rows


def test_a_parish_row_wins_and_is_sung(tmp_path: Path, tones: Tones) -> None:
    path = tmp_path / "own.toml"
    path.write_text(
        '[[formula]]\nid = "own.final"\nbook = "t1.heirmologic"\nrole = "final"\nshape = "10"\n'
        'slots = "w*=@ S=ga:.5+vou:.5+ni:2 w=pa:5"\nweight = 0\n'
        '[[weight]]\nid = "third"\nvalue = 0\n',
        encoding="utf-8",
    )
    books = load_books([path])
    own = books.book("t1.heirmologic").formula("own.final")
    assert (own.origin, own.conf) == ("parish", "high")
    assert books.weights["third"].value == 0
    ids = [f.id for f in books.book("t1.heirmologic").role("final") if f.shape == "10" and f != own]
    path.write_text(
        path.read_text(encoding="utf-8") + "\n".join(_row("off = true", i) for i in ids),
        encoding="utf-8",
    )
    assert check_books([path]) == []
    done = set_hymn(hymn("have 'mer-cy |||", 1), tones, load_books([path]))[0]
    assert done.figures[-1][-1].formula == "own.final"
    assert done.hymn.phrases[-1].syllables[-1].notes[-1].beats == 5


def test_a_branch_without_a_book_is_a_sentence(books: Books, tones: Tones) -> None:
    with pytest.raises(ChantError) as caught:
        set_hymn(hymn("have 'mer-cy |||", branch="t3.papadic"), tones, books)
    assert "t3.papadic" in str(caught.value)
    assert "t3.heirmologic" in caught.value.remedy
