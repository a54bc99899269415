"""The pages against somebody who means harm: roles, hosts, forms, headers, names, sound.

References
----------
OWASP Top 10 (2021) and its cheat sheets on authorization, session management, unvalidated
redirects, cross-site request forgery and denial of service. RFC 9110 (Host, Origin), RFC 9112
(header fields end at CR LF).
"""

from __future__ import annotations

import io
import re
import stat
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from sqlalchemy import delete
from starlette.testclient import TestClient

from chantwright.parish import copy_demo
from chantwright.parish.records import RECORDING, agree, back_up, keep_recording
from chantwright.parish.records.accounts import Account, invite
from chantwright.parish.records.attempts import Attempts
from chantwright.parish.records.handing import hand_over
from chantwright.parish.records.people import add_person
from chantwright.parish.records.tables import AttemptRow
from chantwright.web.app import make_app
from chantwright.web.desk import Desk
from chantwright.web.doors import allowed
from chantwright.web.soundpages import LONGEST_SECONDS

HOST = "choir.example.org"
SECRET = "four quiet harbour lamps"
HYMN = "lord-i-cry.txt"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    path = tmp_path_factory.mktemp("abuse") / "parish"
    copy_demo(path)
    opened = Desk.open(path, date(2026, 11, 25))
    yield opened
    opened.close()


def browser(desk: Desk) -> TestClient:
    app = make_app(desk, hosts=(HOST,), hosted=True, attempts=Attempts(desk.store, limit=1000))
    return TestClient(app, base_url=f"https://{HOST}", follow_redirects=False)


def joined(desk: Desk, role: str, login: str, singer: str | None = None) -> TestClient:
    with desk.store.write() as session:
        token = invite(session, role, singer)
    found = browser(desk)
    answer = found.post(f"/join/{token}", data={"login": login, "secret": SECRET})
    assert answer.status_code == 303, answer.text
    return found


@pytest.fixture(scope="module")
def home(desk: Desk) -> TestClient:
    return TestClient(make_app(desk), base_url="http://localhost:8642", follow_redirects=False)


# --- who may go where -----------------------------------------------------------------------------

OPEN, ANY, OWN, TEACHER = "nobody signed in", "any singer", "that singer", "the teacher alone"
ROLES = {
    "GET /": ANY, "GET /hymns": ANY, "GET /booklet.pdf": ANY, "GET /course": ANY,
    "GET /course/{number}.pdf": ANY, "POST /light": ANY, "POST /sign-out": ANY,
    "GET /hymn/{name:path}": ANY, "GET /hymn/{name:path}/print.pdf": ANY,
    "GET /hymn/{name:path}/ways/{phrase}": TEACHER, "POST /hymn/{name:path}/keep": TEACHER,
    "POST /hymn/{name:path}/note": TEACHER, "POST /hymn/{name:path}/undo": TEACHER,
    "POST /hymn/{name:path}/again": TEACHER,
    "POST /hymn/{name:path}/way": TEACHER,
    "GET /sound/{name:path}.{kind}": ANY, "GET /hear/{name:path}": ANY,
    "POST /hear/{name:path}": ANY, "GET /stand/{place}": ANY,
    "GET /singers": TEACHER, "POST /singers": TEACHER, "GET /singers/{person_id}": OWN,
    "GET /singers/{person_id}/all.json": OWN, "GET /singers/{person_id}/all.zip": OWN,
    "GET /singers/{person_id}/range": OWN, "POST /singers/{person_id}/range": OWN,
    "POST /singers/{person_id}/range/sung": OWN, "POST /singers/{person_id}/consent": TEACHER,
    "POST /singers/{person_id}/withdraw": OWN, "POST /singers/{person_id}/delete": OWN,
    "POST /singers/{person_id}/invite": TEACHER,
    "GET /singers/{person_id}/recording/{recording_id}": OWN,
    "POST /singers/{person_id}/recording/{recording_id}": OWN,
    "GET /prepare": TEACHER, "POST /prepare": TEACHER, "GET /prepare/events": TEACHER,
    "GET /prepare/recordings/{name}": TEACHER,
    "GET /assign": TEACHER, "POST /assign": TEACHER,
    "POST /assign/{assignment_id}/take-back": TEACHER,
    "POST /assign/{assignment_id}/learned": TEACHER,
    "GET /results": TEACHER, "POST /results": TEACHER,
    "GET /plan/{place}": TEACHER, "POST /plan/{place}": TEACHER,
    "GET /write": TEACHER, "POST /write": TEACHER,
    "GET /text/{name:path}": TEACHER, "POST /text/{name:path}": TEACHER,
    "GET /sign-in": OPEN, "POST /sign-in": OPEN, "GET /join/{token}": OPEN,
    "POST /join/{token}": OPEN, "GET /static": OPEN,
}  # fmt: skip
"""Every address of the app, and who may ask for it. A new one has to be written here first."""
VALUES = {"name": HYMN, "phrase": "p1", "kind": "mp3", "place": "0", "number": "1",
          "token": "x" * 20, "recording_id": "abc", "assignment_id": "abc"}  # fmt: skip


def routes(found: Any) -> Iterator[tuple[str, str]]:
    """Walk every route of an app, also those that its schema hides and those of routers in it."""
    for route in found.routes:
        inner = getattr(route, "original_router", None) or getattr(route, "router", None)
        if inner is not None:
            yield from routes(inner)
        elif (methods := getattr(route, "methods", None)) is not None:
            yield from ((m, route.path) for m in methods if m != "HEAD")
        else:
            yield "GET", route.path


def test_every_route_is_in_the_table_of_roles(desk: Desk) -> None:
    found = {f"{m} {p}" for m, p in routes(make_app(desk, hosts=(HOST,), hosted=True))}
    assert found == set(ROLES)


@pytest.mark.parametrize("row", sorted(ROLES))
def test_each_role_reaches_what_its_row_says(row: str, desk: Desk) -> None:
    method, path = row.split()
    me = Account("1", "anna", "singer", "me")
    teacher = Account("2", "leader", "teacher", None)

    def at(person: str) -> str:
        values = VALUES | {"person_id": person}
        return re.sub(r"\{(\w+)(:path)?\}", lambda m: values[m[1]], path)

    role = ROLES[row]
    if role != OPEN:
        assert allowed(me, method, at("me")) == (role in (ANY, OWN))
        assert allowed(me, method, at("another")) == (role == ANY)
        assert not allowed(Account("3", "x", "singer", None), method, at("me")) or role == ANY
    assert allowed(teacher, method, at("me"))
    answer = browser(desk).request(method, at("me"))
    # Nobody who is not signed in gets further than the door.
    if role != OPEN:
        assert answer.status_code == (303 if method == "GET" else 401)
        assert method != "GET" or answer.headers["location"] == "/sign-in"


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "CONNECT", "get"])
def test_other_methods_open_nothing(method: str, desk: Desk) -> None:
    assert not allowed(Account("1", "a", "singer", "me"), method, "/")
    assert browser(desk).request(method, "/hymns").status_code in (303, 401, 405)


# --- hosts, other sites, redirects ----------------------------------------------------------------


@pytest.mark.parametrize(
    "host",
    ["evil.example", "localhost.evil.example", "evil.example@localhost", "localhost@evil.example",
     "localhost/x", "localhost\\x", "localhost?x", "[::1", "", "localhost evil.example"],
)  # fmt: skip
def test_a_host_of_another_name_is_refused(host: str, home: TestClient) -> None:
    assert home.get("/sign-in", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("origin", ["http://[", "null", "http://localhost.evil.example", "x", "//"])
def test_an_origin_that_cannot_be_read_is_foreign(origin: str, home: TestClient) -> None:
    answer = home.post(f"/hymn/{HYMN}/keep", headers={"origin": origin})
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "back",
    ["//evil.example", "/\\evil.example", "https://evil.example", "/\t/evil.example",
     "/\n/evil.example", "javascript:alert(1)", "\\\\evil.example", " //evil.example", "/%09/evil"],
)  # fmt: skip
def test_no_redirect_leads_elsewhere(back: str, home: TestClient) -> None:
    place = home.post("/light", data={"look": "dark", "back": back}).headers["location"]
    # A browser drops tabs and line ends in an address, and reads \ as / (WHATWG URL).
    plain = re.sub(r"[\t\r\n]", "", place).replace("\\", "/")
    assert plain.startswith("/")
    assert not plain.startswith("//")


@pytest.mark.parametrize("id_", ["p1s1\r\nset-cookie: a=b", "p1\nx: y", "p1\0", "p1s1n1 x"])
def test_no_header_is_written_through_a_form(id_: str, home: TestClient) -> None:
    for form in ({"id": id_, "what": "up"}, {"phrase": id_, "number": "1"}):
        for verb in ("note", "way"):
            answer = home.post(f"/hymn/{HYMN}/{verb}", data=form)
            assert answer.status_code in (303, 400, 404, 422)
            assert "set-cookie" not in answer.headers
            assert "x" not in answer.headers


def test_no_header_is_written_through_a_name_of_a_file(desk: Desk, home: TestClient) -> None:
    with desk.store.write() as session:
        who = add_person(session, 'x"\r\nset-cookie: a=b\r\n; filename="y.exe', "man").id
    for kind in ("json", "zip"):
        answer = home.get(f"/singers/{who}/all.{kind}")
        assert answer.headers["content-disposition"] == f'attachment; filename="singer.{kind}"'
        assert "set-cookie" not in answer.headers
    for name in ("a%0d%0aset-cookie:%20a=b.mp3", "..%2f..%2fparish.toml", "a.mp3%00", "A b.mp3"):
        answer = home.get(f"/prepare/recordings/{name}")
        assert answer.status_code == 404
        assert "set-cookie" not in answer.headers


# --- names that lead out of the folder ------------------------------------------------------------

OUT = ["../parish.toml", "..%2fparish.toml", "%2e%2e/records.sqlite", "..%5cparish.toml",
       "....//parish.toml", "/etc/passwd", "%2fetc%2fpasswd", "x%00.txt", f"{HYMN}%00.txt",
       "%c0%ae%c0%ae/parish.toml", f"{HYMN}~", "../hymns/../parish.toml"]  # fmt: skip


@pytest.mark.parametrize("name", OUT)
def test_no_parameter_leads_out_of_its_folder(name: str, desk: Desk, home: TestClient) -> None:
    before = (desk.path / "parish.toml").read_bytes()
    for address in (
        f"/hymn/{name}", f"/hymn/{name}/print.pdf", f"/sound/{name}.mp3", f"/hear/{name}",
        f"/text/{name}", f"/static/{name}", f"/static/fonts/{name}", f"/singers/{name}/all.zip",
        f"/singers/{name}/recording/{name}", f"/prepare/recordings/{name}",
    ):  # fmt: skip
        answer = home.get(address)
        assert answer.status_code in (400, 404, 405), (address, answer.status_code)
        assert b"calendar =" not in answer.content
        assert b"SQLite format" not in answer.content
    for address in (f"/hymn/{name}/keep", f"/hymn/{name}/undo", f"/text/{name}"):
        answer = home.post(address, data={"words": "O Lord, hear me.", "stamp": "x"})
        assert answer.status_code in (400, 404, 405), address
    assert (desk.path / "parish.toml").read_bytes() == before


def test_a_link_in_the_folder_leads_to_nothing_outside(
    desk: Desk, home: TestClient, tmp_path: Path
) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("title: Not yours\n\nO Lord, hear me.\n", encoding="utf-8")
    link = desk.path / "hymns" / "link.txt"
    link.symlink_to(secret)
    try:
        for address in ("/hymn/link.txt", "/text/link.txt"):
            answer = home.get(address)
            assert answer.status_code == 404
            assert "Not yours" not in answer.text
    finally:
        link.unlink()


@pytest.mark.parametrize(
    "name", ["../../x.wav", "/tmp/x.wav", "x" * 5000, "a\\..\\b.wav", "\u202egnp.wav", "a.w/../v"]
)
def test_the_name_of_an_upload_leads_nowhere(name: str, desk: Desk, home: TestClient) -> None:
    before = {p for p in desk.path.rglob("*") if "ready" not in p.parts}
    answer = home.post(f"/hear/{HYMN}", files={"take": (name, b"RIFF0000WAVE", "audio/wav")})
    assert answer.status_code == 400
    after = {p for p in desk.path.rglob("*") if "ready" not in p.parts}
    assert {p.name for p in after - before} <= {"records.sqlite-wal", "records.sqlite-shm"}


# --- sound ----------------------------------------------------------------------------------------


def test_hours_of_packed_silence_are_refused_before_they_are_unpacked(home: TestClient) -> None:
    out = io.BytesIO()
    with soundfile.SoundFile(out, "w", 8000, 1, format="FLAC", subtype="PCM_16") as file:
        quiet = np.zeros(8000 * 60, np.int16)
        for _ in range(int(LONGEST_SECONDS // 60) + 1):
            file.write(quiet)
    assert len(out.getvalue()) < 2_000_000
    answer = home.post(f"/hear/{HYMN}", files={"take": ("a.flac", out.getvalue(), "audio/flac")})
    assert answer.status_code == 400
    assert "at most 30 minutes" in answer.text


def test_the_sound_of_a_minor_reaches_nobody_else(desk: Desk) -> None:
    with desk.store.write() as session:
        child = add_person(session, "Linnet", "child", minor=True).id
        other = add_person(session, "Orla", "woman").id
        with pytest.raises(ValueError, match="guardian"):
            agree(session, child, RECORDING, given_by="Linnet", as_guardian=False)
        agree(session, child, RECORDING, given_by="Her mother", as_guardian=True)
        kept = keep_recording(
            session, child, HYMN, b"RIFFsecret", desk.path / "recordings", suffix=".wav"
        )
    file = desk.path / "recordings" / kept.file
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700
    own = joined(desk, "singer", "linnet", child)
    address = f"/singers/{child}/recording/{kept.id}"
    assert own.get(address).content == b"RIFFsecret"
    strangers = {
        "nobody": browser(desk),
        "singer": joined(desk, "singer", "orla", other),
        "teacher": joined(desk, "teacher", "teacher"),
    }
    for role, client in strangers.items():
        for at in (address, f"/singers/{child}/all.zip", f"/static/../recordings/{kept.file}",
                   f"/prepare/recordings/{kept.file}", f"/sound/{kept.file}",
                   f"/singers/{other}/recording/{kept.id}"):  # fmt: skip
            answer = client.get(at)
            assert b"RIFFsecret" not in answer.content, (role, at)
        # Nor can anybody else share it.
        assert client.post(address, data={"shared": "true"}).status_code in (401, 404), role
    assert own.get(f"/singers/{child}").status_code == 200


def test_what_names_people_is_readable_by_its_owner_alone(desk: Desk, tmp_path: Path) -> None:
    def mode(path: Path) -> int:
        return stat.S_IMODE(path.stat().st_mode)

    with desk.store.write() as session:
        who = add_person(session, "Corin", "man").id
    for path in desk.path.glob("records.sqlite*"):
        assert mode(path) == 0o600, path
    back_up(desk.store, desk.path, tmp_path / "b.zip")
    hand_over(desk.store, who, desk.path / "recordings", tmp_path / "h.zip")
    assert mode(tmp_path / "b.zip") == mode(tmp_path / "h.zip") == 0o600


# --- forms ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", ["²", "٣", "9" * 5000, "-1", "1e3", "0x1"])
def test_a_place_that_is_no_number_is_no_place(place: str, home: TestClient) -> None:
    form = {"words": "O Lord, hear me.", "place": place, "item": "stichera", "do": "look"}
    assert home.post("/write", data=form).status_code == 200
    assert home.get(f"/stand/{place}").status_code in (200, 400, 404, 422)


def test_guessing_from_one_place_counts_no_more_names(desk: Desk) -> None:
    with desk.store.write() as session:
        session.execute(delete(AttemptRow))
    attempts = Attempts(desk.store, limit=2)
    app = make_app(desk, hosts=(HOST,), hosted=True, attempts=attempts)
    client = TestClient(app, base_url=f"https://{HOST}")
    asked: list[str] = []
    again = Attempts.again

    def counted(self: Attempts, key: str) -> bool:
        asked.append(key)
        return again(self, key)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Attempts, "again", counted)
        for number in range(8):
            client.post("/sign-in", data={"login": f"n{number}" * 500, "secret": "y"})
    names = [k for k in asked if k.startswith("as ")]
    assert len(names) == 2
    assert max(len(n) for n in names) < 100


SCRIPT = "<script>alert(1)</script>"


def test_no_script_comes_through_a_hymn(desk: Desk, home: TestClient) -> None:
    path = desk.path / "hymns" / "script.txt"
    path.write_text(
        f'title: {SCRIPT}"onload=x\ntone: 4\nwords from: {SCRIPT}\n\n'
        f"{{{SCRIPT}}} O Lord, hear me.\n",
        encoding="utf-8",
    )
    try:
        for at in ("/hymn/script.txt", "/hymns", "/text/script.txt", "/hear/script.txt", "/assign"):
            answer = home.get(at)
            assert answer.status_code == 200, at
            assert "<script>alert" not in answer.text
            assert "alert(1)</script" not in answer.text
        for reading in ("neumes", "letters", "words"):
            page = home.get("/hymn/script.txt", params={"reading": reading}).text
            assert "<script>alert" not in page
    finally:
        path.unlink()


def test_cookies_are_for_the_server_alone(desk: Desk) -> None:
    client = joined(desk, "teacher", "cookie")
    answer = client.post("/sign-in", data={"login": "cookie", "secret": SECRET})
    for part in ("__Host-chant=", "HttpOnly", "Secure", "SameSite=lax", "Path=/"):
        assert part in answer.headers["set-cookie"]
    assert "Domain" not in answer.headers["set-cookie"]
    light = client.post("/light", data={"look": "dark"}).headers["set-cookie"].lower()
    assert "httponly" in light
    assert "samesite=lax" in light
