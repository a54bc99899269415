"""A share of the abuse of bench/fuzz.py; another share each day would find more, but tell less."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest
from fuzz_cases import ACCEPTED, KINDS, REFUSED, TooLongError, limit, run, shares
from fuzz_damage import NASTY, of_bytes, of_text
from fuzz_ground import Ground, difference, ground

CASES, START = 200, 77
SHARES = shares(CASES)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ground]:
    made = ground(tmp_path_factory.mktemp("fuzz"))
    yield made
    for end in made.at_end:
        end()


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.filterwarnings("ignore")  # of libraries, about files that are damaged on purpose
def test_damage_ends_in_a_sentence_and_loses_nothing(kind: str, place: Ground) -> None:
    count = SHARES[kind]
    for number in range(count):
        found = run(place, kind, START, number, count)
        assert found.end in (ACCEPTED, REFUSED), f"{kind} {number}: {found.end}\n{found.said}"


def test_the_watch_sees_what_is_lost() -> None:
    before = {"hymns/a.txt": b"a", "parish.toml": b"p"}
    assert not difference(before, dict(before), asked=False)
    assert "gone" in difference(before, {"parish.toml": b"p"}, asked=True)
    changed = {**before, "hymns/a.txt": b"b"}
    assert "changed" in difference(before, changed, asked=False)
    assert "not kept" in difference(before, changed, asked=True)
    assert not difference(before, {**changed, "hymns/a.txt~": b"a"}, asked=True)
    assert "appeared" in difference(before, {**before, "own/x.toml": b""}, asked=False)


def test_the_alarm_stops_what_never_ends() -> None:
    with pytest.raises(TooLongError), limit(0.2):
        while True:
            pass


def test_damage_is_the_same_for_the_same_seed_and_seldom_none() -> None:
    text = "O Lord, I have cried unto thee.\nHear thou me."
    made = [of_text(text, random.Random(i)) for i in range(60)]
    assert made == [of_text(text, random.Random(i)) for i in range(60)]
    assert sum(t != text for t in made) > 50
    data = bytes(range(200))
    spoiled = [of_bytes(data, random.Random(i)) for i in range(60)]
    assert spoiled == [of_bytes(data, random.Random(i)) for i in range(60)]
    assert sum(d != data for d in spoiled) > 50
    assert len(set(NASTY)) == len(NASTY)
