from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from chantwright.cli import main
from chantwright.errors import ChantError
from chantwright.parish import (
    Singable,
    copy_demo,
    group_singers,
    load_knowledge,
    make_singable,
    open_folder,
)
from chantwright.parish.course import make_course, read_order, tones_ahead
from chantwright.parish.hardness import hardness, load_weights
from chantwright.score import Hymn, Note, Phrase, Syllable

WEIGHTS = load_weights()


def hymn(*lines: list[int | list[int]]) -> Hymn:
    phrases = []
    for line in lines:
        syllables = tuple(
            Syllable("la", notes=tuple(Note(d) for d in (x if isinstance(x, list) else [x])))
            for x in line
        )
        phrases.append(Phrase(syllables))
    return Hymn("Test", tone=1, phrases=tuple(phrases))


PLAIN = hymn([1, 2, 3, 2, 1], [1, 2, 3, 2, 1])


@pytest.mark.parametrize(
    ("harder", "reason"),
    [
        (hymn([1, 4, 1, 2, 1], [1, 2, 3, 2, 1]), "leap"),
        (hymn([1, 2, 3, 4, 5], [6, 5, 4, 3, 1]), "compass"),
        (hymn([1, 2, [3, 2, 3, 2], 2, 1], [1, 2, 3, 2, 1]), "melisma"),
        (hymn([1, 2, 3, 2, 1], [1, 2, 3, 2, 3]), "new_line"),
    ],
)
def test_what_teachers_call_hard_is_harder(harder: Hymn, reason: str) -> None:
    # Leaps, wide compass, long melismas and unlike phrases are hard to learn: common practice.
    found = hardness(harder, WEIGHTS)
    assert found.points > hardness(PLAIN, WEIGHTS).points
    more = {r.id: r.points for r in found.reasons}
    before = {r.id: r.points for r in hardness(PLAIN, WEIGHTS).reasons}
    assert more.get(reason, 0) > before.get(reason, 0)


def test_a_scale_change_short_notes_and_bends_count() -> None:
    first = PLAIN.phrases[0]
    changed = replace(PLAIN, phrases=(first, replace(PLAIN.phrases[1], scale="soft_chromatic")))
    assert hardness(changed, WEIGHTS).points > hardness(PLAIN, WEIGHTS).points
    quick = replace(
        first,
        syllables=tuple(
            replace(s, notes=(replace(s.notes[0], beats=Fraction(1, 2), bend=Fraction(-4)),))
            for s in first.syllables
        ),
    )
    found = {r.id for r in hardness(replace(PLAIN, phrases=(quick,)), WEIGHTS).reasons}
    assert {"uneven", "bend"} <= found


def test_no_melody_is_told() -> None:
    with pytest.raises(ChantError, match="no melody"):
        hardness(Hymn("Words", tone=1, phrases=(Phrase(text="la"),)), WEIGHTS)


def test_a_parish_row_that_means_nothing_is_told(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        '[[hardness]]\nid = "smell"\nshort = "x"\nwhat = "x"\nweight = 1\n', encoding="utf-8"
    )
    with pytest.raises(ChantError, match=r"own\.toml"):
        hardness(PLAIN, load_weights([own]))


@pytest.fixture(scope="module")
def parish(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("course") / "parish"
    copy_demo(path)
    return path


def test_weeks_bring_the_tones_in_turn(parish: Path) -> None:
    ahead = tones_ahead(open_folder(parish), date(2026, 11, 25))
    # Tone 1 on 29 November 2026 (new calendar; counted from Thomas Sunday): common practice.
    assert [t for _, t in ahead] == [1, 2, 3, 4, 5, 6, 7, 8]
    assert all(d.weekday() == 5 for d, _ in ahead)


def test_weeks_without_a_tone_are_passed_over(parish: Path) -> None:
    ahead = tones_ahead(open_folder(parish), date(2027, 4, 20), 3)
    # Palm Sunday (25 April 2027) has no tone; Pascha and Thomas Sunday have tone 1, the Sunday of
    # the Myrrh-bearers tone 2 (common practice). A tone is not taught twice running.
    assert ahead[:2] == ((date(2027, 5, 1), 1), (date(2027, 5, 15), 2))


def test_the_course_and_its_handouts(parish: Path, tmp_path: Path) -> None:
    run = CliRunner().invoke(
        main,
        ["course", "2026-11-25", "--parish", str(parish), "--order", "1 4", "-o",
         str(tmp_path / "out"), "--json"],
    )  # fmt: skip
    assert run.exit_code == 0, run.output
    told = json.loads(run.stdout)
    assert [w["tone"] for w in told["weeks"]] == [1, 4]
    first = told["weeks"][0]
    points = [h["hardness"] for h in first["hymns"]]
    assert len(points) >= 4
    assert points == sorted(points)
    names = sorted(p.name for p in (tmp_path / "out").iterdir())
    assert names == ["week-1-tone-1.pdf", "week-2-tone-4.pdf"]


def test_one_week_alone_is_the_week_it_is_in_the_whole(
    parish: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = open_folder(parish)
    knowledge = load_knowledge(folder.overrides)
    singers = group_singers(knowledge.tones, folder.group)
    day = date(2026, 11, 25)
    whole = make_course(folder, day, knowledge, singers, order=(1, 4, 8))
    tones = []

    def counted(hymn: Hymn, *args: Any, **more: Any) -> Singable:
        made = make_singable(hymn, *args, **more)
        tones.append(made.hymn.tone)
        return made

    monkeypatch.setattr("chantwright.parish.course.make_singable", counted)
    for number, tone in ((1, 1), (2, 4), (3, 8)):
        tones.clear()
        one = make_course(folder, day, knowledge, singers, order=(1, 4, 8), only=number)
        assert one.weeks == (whole.weeks[number - 1],)
        assert set(tones) == {tone}  # no hymn of another week is set for it
    assert make_course(folder, day, knowledge, singers, order=(1, 4), only=3).weeks == ()


def test_orders_are_read() -> None:
    assert read_order("1, 5 4") == (1, 5, 4)
    with pytest.raises(ChantError, match="no order"):
        read_order("first")
