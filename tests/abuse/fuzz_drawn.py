"""Abuse by what is typed: pasted words, dates, commands, addresses and forms, drawn by hypothesis.

Each kind has a strategy and a function that uses one drawn value; see `fuzz_files` for how it ends.
"""

from __future__ import annotations

import os
import random
import re
from collections.abc import Callable
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any

from click.testing import CliRunner
from fastapi import FastAPI
from fuzz_damage import NASTY, of_bytes, of_take
from fuzz_ground import DAY, Ground, sung_samples, whole
from httpx2 import InvalidURL, LocalProtocolError, UnsupportedProtocol
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from chantwright import almanac, words
from chantwright.almanac.pascha import last_pascha, next_pascha
from chantwright.cli import main
from chantwright.errors import ChantError
from chantwright.parish.records import RECORDING, add_person, agree, persons
from chantwright.score import hymnfile
from chantwright.web.app import make_app
from chantwright.web.desk import Desk
from chantwright.web.preparepages import Preparing

Drawn = tuple[int, st.SearchStrategy[Any], Callable[[Ground, Any], object]]

nasty = st.sampled_from(NASTY)
plain = st.text(max_size=12)

# --- pasted words ---------------------------------------------------------------------------------

_PIECES = st.sampled_from([
    "O", "Lord,", "I", "have", "cried", "unto", "thee:", ".", "|", "||", "|||", "·", "-", "—", "’",
    "{", "}", "(", ")", "[", "]", "*", "_", "#", "incénse", "heav·en", "12", "v.", "[Stich]",
    "κύριε", "Ἐκέκραξα", "СЛАВА", "gló-ry", "un-", "\n", "\n\n", "\t", "title:", "tone:", "notes:",
    "ison:", "stress:", "cadence:", "scale:", "branch:", "base:", "ending:", "tempo:", "ni",
    "ni+pa:½", "vou(–3):1,5", "unison", "none", "hold", "ke_", "zo'",
])  # fmt: skip
pasted = st.lists(st.one_of(_PIECES, plain, nasty), max_size=60).map(" ".join)


def paste(ground: Ground, text: str) -> None:
    """Words that are pasted into a hymn file or typed."""
    hymn = hymnfile.loads(text, file="(typed words)")
    # Half a character cannot be kept; all else comes back the same.
    assert hymnfile.loads(hymnfile.dumps(hymn)) == hymn, "another hymn after writing and reading"
    words.to_phrases(words.read_words(text))


# --- dates ----------------------------------------------------------------------------------------

_written = st.one_of(
    st.builds("{:04d}-{:02d}-{:02d}".format, st.integers(-5, 99999), st.integers(-1, 14),
              st.integers(-1, 33)),
    st.builds("{} {} {}".format, st.integers(-1, 40), st.sampled_from(
        ["November", "nov", "Nov.", "febr", "Maerz", ""]), st.sampled_from(["", "2026", "99999"])),
    st.sampled_from(["today", "tomorrow", "Sunday", "saturday", "pascha", "next week"]),
    nasty, plain,
)  # fmt: skip
dates = st.tuples(
    st.one_of(_written, st.dates(), st.datetimes(), st.none(), st.integers(), st.floats()),
    st.sampled_from(["new", "old", "gregorian", "", "julian", "new\0"]),
    st.sampled_from(["greek", "slavic", "romanian", "", "other"]),
    st.sampled_from(["vespers", "orthros", "liturgy", "presanctified", "", "x"]),
)


def ask_date(ground: Ground, drawn: tuple[Any, str, str, str]) -> None:
    """A date as text, a far year, or no date at all."""
    given_, calendar, practice, service = drawn
    day = given_
    if not isinstance(given_, date):
        try:
            day = almanac.parse_date(given_)
        except (TypeError, AttributeError):
            if isinstance(given_, str):
                raise
            raise ChantError("no text") from None  # a fault of whoever calls, not of a chanter
    if isinstance(day, datetime):
        day = day.date()
    for one in almanac.week(day, calendar=calendar, practice=practice):
        almanac.items(one)
        almanac.to_json(one)
    almanac.service_day(day, service, calendar=calendar, practice=practice)
    last_pascha(day, calendar)
    next_pascha(day, calendar)


# --- commands -------------------------------------------------------------------------------------

_FILES = ("words.txt", "hymn.txt", "a.docx", "a.pdf", "a.musicxml", "a.mid", "a.wav", "a.ogg",
          "broken.bin", "none.txt", "folder", "parish", "a.scl", "table.csv", "-",
          "backup.zip")  # fmt: skip
_OPTIONS = {
    "week": ("--calendar", "--practice", "--points", "--service", "--parish", "--json"),
    "calendar": ("-o", "--zone", "--before", "--alarm", "--parish", "--json"),
    "yearbook": ("--take", "--parish", "--json"),
    "words": ("--psalm", "--choices", "--parish", "--json"),
    "set": ("--tone", "--branch", "--ison", "--ending", "--choices", "--take", "--phrase", "--why",
            "-o", "--parish", "--json"),
    "choose": ("--phrase", "--rounds", "-o", "--tone", "--branch", "--parish"),
    "fit": ("--formulas", "--tone", "-o", "--parish", "--json"),
    "figures": ("--tone", "-o", "--parish"),
    "audition": ("--slots", "--book", "--role", "--shape", "-o", "--keep", "--parish"),
    "pitch": ("--tone", "--branch", "--group", "--singers", "--exact", "--parish", "--json"),
    "print": ("-o", "--title", "--letters", "--as", "--paper", "--form", "--tone", "--parish"),
    "handout": ("-o", "--paper", "--black", "--tone", "--parish"),
    "convert": ("--ni", "--part", "--exact", "--tone", "--branch", "--parish"),
    "course": ("--parish", "--order", "-o", "--group", "--singers", "--json"),
    "range": ("--singer", "--voice", "--json"),
    "name": ("--drone", "--parish", "--json"),
    "hold": ("--start", "--tempo", "--parish", "--json"),
    "check": ("--parish", "--json"),
    "singers": ("--parish", "-o", "--json"),
    "backup": ("--parish", "-o"),
    "restore": (),
    "found": ("--name",),
    "invite": ("--parish",),
}  # fmt: skip
_FLAGS = ("--points", "--json", "--why", "--exact", "--black", "--keep", "--formulas")
_VALUES = st.one_of(
    st.sampled_from(_FILES), nasty.filter(lambda t: "\0" not in t), st.sampled_from(
        ["1", "0", "9", "141:1-2", "999:9", "t4.heirmologic_legetos", "p1", "2026-11-28", "all",
         "simple", "long", "new", "staff", "pages", "list", "export", "Anna", "C", "men", "detect",
         "out.txt", "out.pdf", "out.mei", "folder/x/y.txt", "/proc/nothing", "", "--", "-h"]),
)  # fmt: skip


@st.composite
def commands(draw: st.DrawFn) -> list[str]:
    """A verb with arguments that fit it, more or less."""
    verb = draw(st.sampled_from(sorted(_OPTIONS)))
    out = [verb, *draw(st.lists(_VALUES, max_size=3))]
    for name in draw(st.lists(st.sampled_from(_OPTIONS[verb] or ("-x",)), max_size=3)):
        out += [name] if name in _FLAGS else [name, draw(_VALUES)]
    return out


class RefusedError(ChantError):
    """A page or a command that refused in a sentence."""


def _workshop(ground: Ground) -> Path:
    """A folder with files of each kind, for a command to stumble over."""
    at = ground.scratch
    (at / "folder").mkdir()
    whole_ = whole()
    for name, kind in (("words.txt", "words"), ("hymn.txt", "hymn"), ("a.docx", "docx"),
                       ("a.pdf", "pdf"), ("a.musicxml", "musicxml"), ("a.mid", "midi"),
                       ("a.wav", "wav"), ("a.ogg", "ogg"), ("a.scl", "scl"),
                       ("table.csv", "yearbook")):  # fmt: skip
        (at / name).write_bytes(whole_[kind][-1])
    (at / "broken.bin").write_bytes(bytes(range(256)))
    return at


def command(ground: Ground, argv: list[str]) -> None:
    """A command line, in a folder with files of each kind."""
    at = _workshop(ground)
    (at / "parish").symlink_to(ground.parish)
    before = {p.name: p.read_bytes() for p in at.iterdir() if p.is_file()}
    here = Path.cwd()
    os.chdir(at)
    try:
        ended = CliRunner().invoke(main, argv, input="O Lord, hear me.\n1\n2\n")
    finally:
        os.chdir(here)
    if ended.exit_code == 3 and "Details" in ended.output:
        report = Path(ended.output.rsplit("are in ", 1)[1].strip())
        told = report.read_text(encoding="utf-8")
        report.unlink()
        raise AssertionError(told)
    if ended.exception is not None and not isinstance(ended.exception, SystemExit):
        raise ended.exception
    assert ended.exit_code in (0, 1, 2), ended.exit_code
    named = {argv[i + 1] for i, a in enumerate(argv[:-1]) if a in ("-o", "--take")}
    asked = {"convert": {*argv[1:]}, "audition": {*before}}.get(argv[0], set()) | named
    for name, data in before.items():
        assert (at / name).is_file(), f"{name} is gone"
        assert (at / name).read_bytes() == data or name in asked, f"{name} was changed"
    if ended.exit_code:
        assert ended.output.strip(), "it said nothing"
        raise RefusedError(ended.output)


# --- addresses and forms --------------------------------------------------------------------------

_ODD = (
    "/static/{x}", "/{x}", "/static/../{x}", "/docs", "/openapi.json", "//evil.example/", "/hymn/",
    "/sign-in", "/join/{x}", "/static/%2e%2e/%2e%2e/app.py", "/hymns/", "/%00", "/hymn/{name}/ways",
)  # fmt: skip


@cache
def _paths(app: FastAPI) -> tuple[str, ...]:
    """Every address of the app, and odd ones; each as often."""
    return (*sorted(app.openapi()["paths"]), *_ODD)


_NAMES = st.sampled_from([
    *["lord-i-cry.txt"] * 12, "lord-i-cry", "let-every-thing.txt", "../parish.toml",
    "..%2fparish.toml",
    "%2e%2e/parish.toml", "....//parish.toml", ".", "", "lord-i-cry.txt%00", "lord-i-cry.txt/x",
    "a" * 300 + ".txt", "lord-i-cry.txt~",
])  # fmt: skip
_WILD = st.one_of(nasty, plain, st.sampled_from([
    "0", "1", "-1", "99", "²", "p1", "p1s1n1", "up", "down", "longer", "staff", "neumes", "true",
    "dark", "man", "woman", "child", "A2", "D4", "H9", "//evil.example", "/\\evil.example",
    "/hymns", "../../records.sqlite", "%2e%2e%2frecords.sqlite", "desk.css", "mp3", "opus", "wav",
    "lord-i-cry.txt", "keep", "2026-11-29", "stichera", "O Lord, hear me.",
]))  # fmt: skip
_FIELDS = (
    "id", "what", "phrase", "number", "nickname", "voice", "minor", "low", "high", "look", "back",
    "given_by", "guardian", "shared", "login", "secret", "level", "singer", "drone", "reading",
    "form", "part", "pace", "sung", "words", "name", "tone", "place", "item", "do", "stamp",
    "hymns", "singers", "by", "leader", "added", "file0", "tone0", "out0", "how", "hymn",
)  # fmt: skip
_forms = st.dictionaries(st.sampled_from(_FIELDS), _WILD, max_size=5)
addresses = st.tuples(
    st.sampled_from([*["GET", "POST"] * 3, "HEAD", "PUT", "DELETE", "OPTIONS", "PATCH"]),
    st.integers(0, 9999), _NAMES, _WILD, st.booleans(), _forms, _forms,
    st.just({}) | st.just({}) | st.just({}) | st.dictionaries(
        st.sampled_from(["host", "origin", "sec-fetch-site", "cookie", "content-type", "range",
                         "accept", "x-forwarded-for", "if-none-match", "content-length"]),
        st.one_of(nasty, st.sampled_from(["bytes=0-", "bytes=9-1", "same-origin", "-1"])),
        max_size=1),
)  # fmt: skip


@cache
def _sendable(text: str) -> str:
    return text.encode("utf-8", "replace").decode()


class _Idle(Preparing):
    """Prepares nothing: that would be minutes of work."""

    def begin(self) -> None:
        return


def _opened(ground: Ground) -> tuple[TestClient, Desk, str]:
    """A browser before the parish, and a singer."""

    def make() -> tuple[TestClient, Desk, str]:
        desk = Desk.open(ground.parish, DAY)
        ground.at_end.append(desk.close)
        app = make_app(desk, preparing=_Idle(desk))
        with desk.store.read() as session:
            singer = persons(session)[0].id
        found = TestClient(app, base_url="http://localhost:8642", follow_redirects=False)
        return found, desk, singer

    return ground.keep("browser", make)  # type: ignore[no-any-return]


def _answered(status: int, text: str) -> None:
    assert status < 500, f"answer {status}: {text[:300]}"
    if status >= 400:
        assert text.strip() or status in (400, 404, 405, 421, 422), f"no sentence with {status}"
        raise RefusedError(f"answer {status}")


def address(ground: Ground, drawn: Any) -> None:
    """An address, a form and a header that no page of ours would send."""
    method, path, name, wild, real, query, form, headers = drawn
    client, _, singer = _opened(ground)
    paths = _paths(client.app)
    path = paths[path % len(paths)]
    at = re.sub(r"\{name(:path)?\}", lambda _: name, path)
    person = singer if real and "delete" not in path else wild
    at = re.sub(r"\{\w+(:\w+)?\}", lambda m: person if m[0] == "{person_id}" else wild, at)
    at = _sendable(at).replace("\\", "%5C")
    sent = {k: _sendable(v) for k, v in form.items()}
    asked = {k: _sendable(v) for k, v in query.items()}
    heads = {k: v.encode("utf-8", "replace")[:2000] for k, v in headers.items()}
    heads = {
        k: v.replace(b"\r", b"").replace(b"\n", b"").replace(b"\0", b"") for k, v in heads.items()
    }
    try:
        body = sent if method in ("POST", "PUT", "PATCH") and sent else None
        answer = client.request(method, at, params=asked or None, headers=heads, data=body)
    except (InvalidURL, LocalProtocolError, UnsupportedProtocol, UnicodeError) as exc:
        raise RefusedError(f"no browser sends this ({type(exc).__name__})") from None
    _answered(answer.status_code, "" if method == "HEAD" else answer.text[:500])


uploads = st.tuples(
    st.integers(0, 2**32), st.sampled_from(["wav", "flac", "mp3", "ogg", "pdf", "docx", "hymn"]),
    st.one_of(_WILD, st.sampled_from(["t.wav", "t.mp3", "t.webm", "../../x.wav", "a" * 400])),
    st.sampled_from(["take", "take", "take", "file"]), _forms,
    st.sampled_from(["audio/wav", "text/html", "", "x" * 300]),
)  # fmt: skip


def upload(ground: Ground, drawn: Any) -> None:
    """A recording that is handed in: damaged, of another kind, under a wild name."""
    number, kind, name, field, form, mime = drawn
    client, desk, singer = _opened(ground)
    draw = random.Random(number)
    data = draw.choice(whole()[kind])
    # A whole recording is heard through, which takes seconds; a few are enough.
    if draw.random() < 0.97:
        data = of_bytes(data, draw)
        if kind in ("wav", "flac", "mp3", "ogg") and draw.random() < 0.9:
            data = data[: draw.randrange(200)]
    fields = {k: _sendable(v) for k, v in form.items()}
    if draw.random() < 0.3:
        fields["singer"] = singer
    answer = client.post(
        "/hear/lord-i-cry.txt", data=fields,
        files={field: (_sendable(name).replace("\0", "") or "x", data, mime)},
    )  # fmt: skip
    left = [p.name for p in (desk.path / "recordings").glob("*")]
    assert not left, f"a recording was kept without consent: {left}"
    _answered(answer.status_code, answer.text[:500])


takes = st.tuples(st.integers(0, 2**32), st.sampled_from([8_000, 16_000, 22_050, 48_000]))


def take(ground: Ground, drawn: tuple[int, int]) -> None:
    """A whole recording of an odd kind: heard, and kept to the last byte where that was agreed."""
    number, rate = drawn
    client, desk, _ = _opened(ground)
    data = of_take(sung_samples(rate).tolist(), rate, random.Random(number))
    with desk.store.write() as session:
        singer = add_person(session, "Odd", "woman").id
        agree(session, singer, RECORDING, given_by="Odd", as_guardian=False)
    answer = client.post(
        "/hear/lord-i-cry.txt", data={"singer": singer},
        files={"take": ("t.wav", data, "audio/wav")},
    )  # fmt: skip
    kept = [p.read_bytes() for p in (desk.path / "recordings").iterdir()]
    gone = client.post(f"/singers/{singer}/delete")
    assert answer.status_code == 200, f"a whole recording was refused: {answer.text[-600:]}"
    assert kept == [data], "what was kept is not what was sent"
    assert gone.status_code == 303
    assert not list((desk.path / "recordings").iterdir()), "a recording outlives its singer"


DRAWN: dict[str, Drawn] = {
    "pasted words": (4, pasted, paste),
    "dates": (4, dates, ask_date),
    "commands": (4, commands(), command),
    "addresses": (6, addresses, address),
    "uploads": (2, uploads, upload),
    "odd takes": (1, takes, take),
}
"""Name -> share in a hundred, strategy, and what uses a drawn value."""


def drawn_values(kind: str, start: int, count: int) -> list[Any]:
    """Draw values; the same start gives the same."""
    out: list[Any] = []

    @seed(start)
    @settings(
        max_examples=count, database=None, deadline=None, phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(DRAWN[kind][1])
    def collect(value: Any) -> None:
        out.append(value)

    collect()
    return out
