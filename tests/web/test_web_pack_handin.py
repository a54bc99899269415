"""Results that singers hand in: what the browser writes is what Python reads."""

from __future__ import annotations

import json
import shutil
import subprocess
import zlib
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.cli import main
from chantwright.errors import ChantError
from chantwright.parish.practice import due
from chantwright.parish.records import Result, open_store, persons, results_of, store_url
from chantwright.web.handin import read_handin, read_handins, told_in, write_handin

GOOD = Result(
    hymn="hymns/clap.txt",
    notes=24,
    wrong=3,
    skipped=1,
    off_moria=0.75,
    drift_moria=-1.5,
    sung=datetime(2024, 11, 30, 17, 5, 9, tzinfo=UTC),
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
    counts=st.tuples(st.integers(200, 300), st.integers(0, 99), st.integers(0, 99)),
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
    for old, new, said in (
        ("notes: 24", "notes: 1e9", "cannot be read"),
        ("notes: 24", "notes: \u0664\u0662", "cannot be read"),
        ("notes: 24", "notes: 3", "do not fit each other"),
        ("notes: 24", "notes: 0", "do not fit each other"),
        ("off: 0.75", "off: nan", "cannot be read"),
        ("off: 0.75", "off: 1e308", "cannot be read"),
        ("sung: 2024", "sung: x", "cannot be read"),
        ("sung: 2024", "sung: 9999", "sung on 9999"),
        ("sung: 2024", "sung: 1066", "sung on 1066"),
        ("sung: 2024-11-30", "sung: 0001-01-01T00:00:00+23:59 ", "cannot be read"),
        ("hymn: hymns/clap.txt", "hymn: ../../etc/passwd", "no name of a file"),
        ("hymn: hymns/clap.txt", "hymn: /etc/passwd", "no name of a file"),
        ("hymn: hymns/clap.txt", "hymn: C:clap.txt", "no name of a file"),
        ("hymn: hymns/clap.txt", "hymn: a\u202eb.txt", "no name of a file"),
        ("hymn: hymns/clap.txt", f"hymn: {'a' * 300}", "no name of a file"),
        ("degrees: pa", "degrees: <b>", "cannot be read"),
        ("skipped: 1", "skipped: 1\nskipped: 0", "too much"),
        ("skipped: 1\n", "", "lacks something"),
        ("title: Clap", "title: Clap\nrole: teacher", "too much"),
    ):
        with pytest.raises(ChantError, match=said) as told:
            read_handin(_signed(old, new))
        assert told.value.remedy, new


def _signed(old: str, new: str) -> str:
    """Change a result and give it a right check sum, as somebody with ill will can."""
    body = "\n".join(write_handin(GOOD).splitlines()[:-1]).replace(old, new)
    return f"{body}\ncheck: {zlib.crc32(body.encode()):08x}\n"


def test_what_cannot_be_seen_is_left_out_of_names() -> None:
    assert (
        read_handin(_signed("singer: Orla", "singer: Or\u202ela\u0007")).detail["singer"] == "Orla"
    )


@settings(deadline=None, max_examples=60)
@given(st.binary(max_size=400))
def test_any_file_at_all_is_a_sentence(data: bytes) -> None:
    with pytest.raises(ChantError):
        read_handins(told_in(data))
    with pytest.raises(ChantError):
        read_handins(told_in(write_handin(GOOD).encode()[:-9] + data))


def test_a_file_kept_by_any_program_is_read() -> None:
    plain = write_handin(GOOD)
    for kind in ("utf-8", "utf-8-sig", "utf-16"):
        assert read_handins(told_in(plain.replace("\n", "\r\n").encode(kind))) == (GOOD,)
    with pytest.raises(ChantError, match="too long"):
        told_in(b"a" * 1_000_000)


def test_the_teacher_takes_results_in_once(tmp_path: Path) -> None:
    parish = tmp_path / "parish"

    def run(*words: str, text: str | None = None) -> tuple[int, str]:
        done = CliRunner().invoke(main, [*words, "--parish", str(parish)], input=text)
        return done.exit_code, done.output

    assert CliRunner().invoke(main, ["found", str(parish), "--name", "Nobody"]).exit_code == 0
    assert run("singers", "add", "Orla", "--voice", "woman")[0] == 0
    file = tmp_path / "result.txt"
    file.write_text(write_handin(GOOD), encoding="utf-8")
    assert run("singers", "results", str(file)) == (0, "Orla: 1 taken in\n")
    assert run("singers", "results", "-", text="> " + write_handin(GOOD).replace("\n", "\n> ")) == (
        0, "Orla: nothing new\n",
    )  # fmt: skip
    with closing(open_store(store_url(parish))) as store, store.read() as session:
        (orla,) = persons(session)
        # By the name that hymns have in the records, so that it counts for readiness there.
        assert results_of(session, orla.id) == (replace(GOOD, hymn="clap.txt"),)
        assert [d.hymn for d in due(session, orla.id)] == ["clap.txt"]
    other = replace(GOOD, detail={**GOOD.detail, "singer": "Finn"})
    both = write_handin(replace(GOOD, notes=30)) + write_handin(other)
    code, said = run("singers", "results", "-", text=both)
    assert code == 1
    assert "there is no singer “Finn”" in said
    assert "There are: Orla" in said
    # All or nothing.
    assert run("singers", "results", "-", "--singer", "orla", text=both)[1] == "Orla: 1 taken in\n"
    code, said = run("singers", "results", str(tmp_path / "none.txt"))
    assert code == 1
    assert "none.txt" in said
    file.write_bytes(b"\xff\x00\x80")
    code, said = run("singers", "results", str(file))
    assert code == 1
    assert "not a text" in said


def test_the_browser_writes_what_python_writes(tmp_path: Path) -> None:
    node = shutil.which("node")
    if node is None:  # pragma: no cover
        pytest.skip("THE PACK'S RESULT TEXT WAS NOT TRIED: no node")
    module = resources.files("chantwright.web") / "static" / "pack" / "results.js"
    kept = {
        "hymn": GOOD.hymn, "title": "Clap", "sung": "2024-11-30T17:05:09Z", "notes": 24, "wrong": 3,
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
