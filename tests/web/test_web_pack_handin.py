"""Results that singers hand in: what the browser writes is what Python reads."""

from __future__ import annotations

import json
import shutil
import subprocess
import zlib
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.parish.records import Result
from chantwright.web.handin import read_handin, read_handins, write_handin

GOOD = Result(
    hymn="hymns/clap.txt",
    notes=24,
    wrong=3,
    skipped=1,
    off_moria=0.75,
    drift_moria=-1.5,
    sung=datetime(2026, 11, 28, 17, 5, 9, tzinfo=UTC),
    source="pack",
    detail={
        "singer": "Orla",
        "title": "Clap",
        "shift": -12.0,
        "degrees": {"pa": 0.25, "zo_": -2.0},
    },
)

text = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), max_size=20)
amount = st.integers(-90_000, 90_000).map(lambda n: n / 100)


@settings(deadline=None, max_examples=60)
@given(
    singer=text,
    title=text,
    counts=st.tuples(*[st.integers(0, 300)] * 3),
    off=st.none() | amount,
    drift=st.none() | amount,
)
def test_round_trip(
    singer: str, title: str, counts: tuple[int, int, int], off: float | None, drift: float | None
) -> None:
    notes, wrong, skipped = counts
    detail = {"singer": singer, "title": title, "shift": 0.5, "degrees": {"di": -1.25}}
    result = Result("hymns/a.txt", notes, wrong, skipped, off, drift, GOOD.sung, "pack", detail)
    back = read_handin(write_handin(result))
    assert back == result or (back.off_moria, back.drift_moria) == pytest.approx((off, drift))
    assert back.detail["singer"] == singer
    assert back.detail["degrees"] == detail["degrees"]


def test_mail_may_quote_and_wrap_it_in_talk() -> None:
    plain = write_handin(GOOD)
    quoted = (
        "Hello!\r\n\r\n" + "".join(f"> > {line}\r\n" for line in plain.splitlines()) + "\r\nBye"
    )
    assert read_handin(quoted) == GOOD
    assert len(read_handins(quoted + "\n" + plain)) == 2
    with pytest.raises(ChantError, match="2 results"):
        read_handin(quoted + "\n" + plain)


@settings(deadline=None, max_examples=80)
@given(st.data())
def test_a_changed_digit_is_noticed(data: Any) -> None:
    plain = write_handin(GOOD)
    places = [i for i, c in enumerate(plain) if c.isdigit() and "check" not in plain[:i]]
    place = data.draw(st.sampled_from(places))
    other = data.draw(st.sampled_from([d for d in "0123456789" if d != plain[place]]))
    with pytest.raises(ChantError):
        read_handin(plain[:place] + other + plain[place + 1 :])


@settings(deadline=None, max_examples=80)
@given(st.text(max_size=300))
def test_anything_else_is_a_sentence(junk: str) -> None:
    with pytest.raises(ChantError):
        read_handin(junk)
    with pytest.raises(ChantError):
        read_handin("chantwright result 1\n" + junk)


def test_odd_numbers_with_a_right_check_sum_are_refused() -> None:
    lines = write_handin(GOOD).splitlines()[:-1]
    for old, new in (
        ("notes: 24", "notes: 1e9"),
        ("off: 0.75", "off: nan"),
        ("sung: 2026", "sung: x"),
    ):
        body = "\n".join(lines).replace(old, new)
        with pytest.raises(ChantError, match="cannot be read"):
            read_handin(f"{body}\ncheck: {zlib.crc32(body.encode()):08x}\n")


def test_the_browser_writes_what_python_writes(tmp_path: Path) -> None:
    node = shutil.which("node")
    if node is None:  # pragma: no cover
        pytest.skip("THE PACK'S RESULT TEXT WAS NOT TRIED: no node")
    module = resources.files("chantwright.web") / "static" / "pack" / "results.js"
    kept = {
        "hymn": GOOD.hymn, "title": "Clap", "sung": "2026-11-28T17:05:09Z", "notes": 24, "wrong": 3,
        "skipped": 1, "off": 0.75, "drift": -1.5, "shift": -12,
        "degrees": [["pa", 0.25], ["zo_", -2]],
    }  # fmt: skip
    script = tmp_path / "write.mjs"
    script.write_text(
        f"const r = await import({json.dumps(Path(str(module)).as_uri())});\n"
        f"process.stdout.write(r.handinText({json.dumps(kept)}, ' Orla '));\n",
        encoding="utf-8",
    )
    done = subprocess.run([node, str(script)], capture_output=True, text=True, check=True)
    assert done.stdout == write_handin(GOOD)
    assert read_handin(done.stdout) == GOOD
