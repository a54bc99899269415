from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import delete, select
from starlette.testclient import TestClient

from chantwright.parish import copy_demo
from chantwright.parish.records import RECORDING, agree, keep_recording, share
from chantwright.parish.records.accounts import account_of, invite, open_session
from chantwright.parish.records.attempts import Attempts
from chantwright.parish.records.people import add_person
from chantwright.parish.records.tables import (
    AccountRow,
    AttemptRow,
    InvitationRow,
    SessionRow,
    now,
)
from chantwright.web.app import make_app
from chantwright.web.desk import Desk

HOST = "choir.example.org"
SECRET = "four quiet harbour lamps"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    path = tmp_path_factory.mktemp("doors") / "parish"
    copy_demo(path)
    opened = Desk.open(path, date(2026, 11, 25))
    yield opened
    opened.close()


def browser(desk: Desk, attempts: Attempts | None = None) -> TestClient:
    app = make_app(
        desk, hosts=(HOST,), hosted=True, attempts=attempts or Attempts(desk.store, limit=1000)
    )
    return TestClient(app, base_url=f"https://{HOST}", follow_redirects=False)


def joined(desk: Desk, role: str, login: str, singer: str | None = None) -> TestClient:
    with desk.store.write() as session:
        token = invite(session, role, singer)
    found = browser(desk)
    answer = found.post(f"/join/{token}", data={"login": login, "secret": SECRET})
    assert answer.status_code == 303, answer.text
    return found


@pytest.fixture(scope="module")
def people(desk: Desk) -> dict[str, str]:
    with desk.store.write() as session:
        return {n: add_person(session, n, "woman").id for n in ("Anna", "Eve")}


@pytest.fixture(scope="module")
def roles(desk: Desk, people: dict[str, str]) -> dict[str, TestClient]:
    return {
        "nobody": browser(desk),
        "singer": joined(desk, "singer", "anna", people["Anna"]),
        "teacher": joined(desk, "teacher", "leader"),
    }


# Address, then the status for nobody, a singer (Anna) and the teacher. 303 leads to the sign-in.
TABLE = [
    ("GET", "/", 303, 200, 200),
    ("GET", "/hymns", 303, 200, 200),
    ("GET", "/hymn/lord-i-cry.txt", 303, 200, 200),
    ("GET", "/hymn/lord-i-cry.txt/ways/p1", 303, 404, 200),
    ("POST", "/hymn/lord-i-cry.txt/keep", 401, 404, 303),
    ("POST", "/hymn/lord-i-cry.txt/undo", 401, 404, 303),
    ("POST", "/hymn/lord-i-cry.txt/again", 401, 404, 303),
    ("POST", "/hymn/lord-i-cry.txt/note", 401, 404, 422),
    ("POST", "/hymn/lord-i-cry.txt/way", 401, 404, 422),
    ("GET", "/stand/0", 303, 200, 200),
    ("GET", "/hear/lord-i-cry.txt", 303, 200, 200),
    ("POST", "/hear/lord-i-cry.txt", 401, 422, 422),
    ("GET", "/singers", 303, 404, 200),
    ("POST", "/singers", 401, 404, 422),
    ("GET", "/singers/{Anna}", 303, 200, 200),
    ("GET", "/singers/{Eve}", 303, 404, 200),
    ("GET", "/singers/{Eve}/all.json", 303, 404, 200),
    ("GET", "/singers/{Anna}/all.json", 303, 200, 200),
    ("GET", "/singers/{Eve}/all.zip", 303, 404, 200),
    ("GET", "/singers/{Anna}/all.zip", 303, 200, 200),
    ("POST", "/singers/{Eve}/delete", 401, 404, None),
    ("POST", "/singers/{Eve}/withdraw", 401, 404, 303),
    ("POST", "/singers/{Anna}/withdraw", 401, 303, 303),
    ("POST", "/singers/{Anna}/consent", 401, 404, 422),
    ("GET", "/singers/{Anna}/range", 303, 200, 200),
    ("GET", "/singers/{Eve}/range", 303, 404, 200),
    ("POST", "/singers/{Anna}/range", 401, 422, 422),
    ("POST", "/singers/{Eve}/range", 401, 404, 422),
    ("POST", "/singers/{Anna}/range/sung", 401, 422, 422),
    ("POST", "/singers/{Eve}/range/sung", 401, 404, 422),
    ("POST", "/singers/{Anna}/invite", 401, 404, 200),
    ("GET", "/singers/{Eve}/recording/x", 303, 404, 404),
    ("POST", "/singers/{Eve}/recording/x", 401, 404, 404),
    ("GET", "/results", 303, 404, 200),
    ("POST", "/results", 401, 404, 400),
    ("GET", "/write", 303, 404, 200),
    ("POST", "/write", 401, 404, 400),
    ("GET", "/text/lord-i-cry.txt", 303, 404, 200),
    ("POST", "/text/lord-i-cry.txt", 401, 404, 400),
    ("GET", "/plan/0", 303, 404, 200),
    ("POST", "/plan/0", 401, 404, 400),
    ("GET", "/assign", 303, 404, 200),
    ("POST", "/assign", 401, 404, 400),
    ("POST", "/assign/x/take-back", 401, 404, 404),
    ("POST", "/assign/x/learned", 401, 404, 404),
    ("GET", "/prepare", 303, 404, 200),
    ("POST", "/prepare", 401, 404, None),
    ("GET", "/prepare/events", 303, 404, 200),
    ("GET", "/prepare/recordings/{Eve}", 303, 404, 404),
    ("GET", "/sign-in", 200, 200, 200),
    ("GET", "/static/desk.css", 200, 200, 200),
    ("GET", "/openapi.json", 303, 404, 404),
    ("GET", "/docs", 303, 404, 404),
]


@pytest.mark.parametrize("row", TABLE, ids=lambda r: f"{r[0]} {r[1]}")
def test_who_may_go_where(
    roles: dict[str, TestClient],
    people: dict[str, str],
    row: tuple[str, str, int, int, int | None],
) -> None:
    method, address, *wanted = row
    for (name, client), status in zip(roles.items(), wanted, strict=True):
        if status is None:
            continue
        answer = client.request(method, address.format(**people))
        assert answer.status_code == status, (name, address, answer.status_code)


def test_every_address_of_the_app_is_in_the_table(desk: Desk) -> None:
    app = make_app(desk, hosts=(HOST,), hosted=True)
    written = {(m, a.split("?")[0]) for m, a, *_ in TABLE}
    seen = 0
    for path, methods in app.openapi()["paths"].items():
        if path.startswith("/join"):
            continue
        shape = path.replace("recordings/{name}", "recordings/{Eve}")
        shape = shape.replace("{name}", "lord-i-cry.txt").replace("{place}", "0")
        for method in {m.upper() for m in methods} & {"GET", "POST"}:
            names = {shape.replace("{person_id}", p) for p in ("{Anna}", "{Eve}")}
            names = {n.replace("{phrase}", "p1").replace("{recording_id}", "x") for n in names}
            names = {n.replace("{assignment_id}", "x") for n in names}
            told = any((method, n) in written for n in names)
            other = ("/light", "/sign-out", "/sign-in", "/course", "/booklet.pdf", "/sound/")
            assert told or path.startswith(other) or path.endswith("print.pdf"), (method, path)
            seen += 1
    assert seen >= 25


def test_another_singer_cannot_be_written_for(
    roles: dict[str, TestClient], people: dict[str, str]
) -> None:
    answer = roles["singer"].post(
        "/hear/lord-i-cry.txt",
        files={"take": ("t.wav", b"RIFF....", "audio/wav")},
        data={"singer": people["Eve"]},
    )
    assert answer.status_code == 404
    page = roles["singer"].get("/hear/lord-i-cry.txt").text
    assert "Anna" in page
    assert "Eve" not in page


def test_sound_is_the_singers_until_it_is_shared(
    desk: Desk, roles: dict[str, TestClient], people: dict[str, str]
) -> None:
    with desk.store.write() as session:
        agree(session, people["Anna"], RECORDING, given_by="Anna", as_guardian=False)
        kept = keep_recording(
            session, people["Anna"], "a.txt", b"RIFFsound", desk.path / "recordings", suffix=".wav"
        )
    address = f"/singers/{people['Anna']}/recording/{kept.id}"
    assert roles["singer"].get(address).content == b"RIFFsound"
    assert roles["teacher"].get(address).status_code == 404

    def sounds(role: str) -> list[str]:
        data = roles[role].get(f"/singers/{people['Anna']}/all.zip").content
        names = zipfile.ZipFile(io.BytesIO(data)).namelist()
        return [n for n in names if n.startswith("recordings/")]

    assert sounds("singer") == [f"recordings/{kept.file}"]
    assert sounds("teacher") == []
    assert roles["teacher"].post(address, data={"shared": "true"}).status_code == 404
    assert roles["singer"].post(address, data={"shared": "true"}).status_code == 303
    assert roles["teacher"].get(address).content == b"RIFFsound"
    with desk.store.write() as session:
        share(session, kept.id, shared=False)
    assert roles["teacher"].get(address).status_code == 404


def test_invitations_work_once_and_not_for_ever(desk: Desk, people: dict[str, str]) -> None:
    with desk.store.write() as session:
        token = invite(session, "singer", people["Eve"])
        assert token not in {r.digest for r in session.scalars(select(InvitationRow))}
        late = invite(session, "teacher")
    short = browser(desk).post(f"/join/{token}", data={"login": "eve", "secret": "short"})
    assert short.status_code == 400
    assert (
        browser(desk).post(f"/join/{token}", data={"login": "eve", "secret": SECRET}).status_code
        == 303
    )
    again = browser(desk).post(f"/join/{token}", data={"login": "eve2", "secret": SECRET})
    assert again.status_code == 400
    with desk.store.write() as session:
        for row in session.scalars(select(InvitationRow).where(InvitationRow.used.is_(None))):
            row.until = now()
    answer = browser(desk).post(f"/join/{late}", data={"login": "late", "secret": SECRET})
    assert answer.status_code == 400


def test_secrets_are_hashed_and_tokens_only_digests(
    desk: Desk, roles: dict[str, TestClient]
) -> None:
    assert roles
    with desk.store.read() as session:
        for row in session.scalars(select(AccountRow)):
            # RFC 9106: the encoded form begins with the variant.
            assert row.secret.startswith("$argon2id$")
        digests = {r.digest for r in session.scalars(select(SessionRow))}
    cookie = roles["teacher"].cookies.get("__Host-chant")
    assert cookie
    assert cookie not in digests


def test_signing_in_gives_a_fresh_token_and_out_ends_it(
    desk: Desk, roles: dict[str, TestClient]
) -> None:
    assert roles
    client = browser(desk)
    with desk.store.write() as session:
        row = session.scalar(select(AccountRow).where(AccountRow.login == "leader"))
        assert row is not None
        planted, _ = open_session(session, row.id)
    # Session fixation: a token that was in the browser before is not the one after.
    client.cookies.set("__Host-chant", planted, domain=HOST)
    answer = client.post("/sign-in", data={"login": "Leader ", "secret": SECRET})
    assert answer.status_code == 303
    header = answer.headers["set-cookie"]
    for part in ("__Host-chant=", "HttpOnly", "SameSite=lax", "Secure", "Path=/"):
        assert part in header
    fresh = header.split("__Host-chant=")[1].split(";")[0]
    assert fresh != planted
    with desk.store.read() as session:
        assert account_of(session, planted) is None
        assert account_of(session, fresh) is not None
    # Nor does a token that somebody invented and planted become good by signing in.
    invented = "planted-by-another-0123456789"
    client = browser(desk)
    client.cookies.set("__Host-chant", invented, domain=HOST)
    answer = client.post("/sign-in", data={"login": "leader", "secret": SECRET})
    assert answer.headers["set-cookie"].split("__Host-chant=")[1].split(";")[0] != invented
    with desk.store.read() as session:
        assert account_of(session, invented) is None
    other = browser(desk)
    other.cookies.set("__Host-chant", fresh, domain=HOST)
    assert other.post("/sign-out").status_code == 303
    with desk.store.read() as session:
        assert account_of(session, fresh) is None


def test_guessing_is_slowed_down_by_processes_together(desk: Desk) -> None:
    clock = [datetime(2026, 11, 25, 12, 0, tzinfo=UTC)]
    with desk.store.write() as session:
        session.execute(delete(AttemptRow))

    def slow(opened: Desk) -> TestClient:
        counted = Attempts(opened.store, limit=3, seconds=60, clock=lambda: clock[0])
        return browser(opened, counted)

    # Two apps, each with its own connection, on one database: as two processes have it.
    other = Desk.open(desk.path, date(2026, 11, 25))
    try:
        clients = (slow(desk), slow(other))
        given = {"login": "x", "secret": "y"}
        for turn in range(3):
            assert clients[turn % 2].post("/sign-in", data=given).status_code == 403
        for client in clients:
            stopped = client.post("/sign-in", data=given)
            assert stopped.status_code == 400
            assert "too many" in stopped.text
        clock[0] += timedelta(seconds=61)
        assert clients[1].post("/sign-in", data=given).status_code == 403
    finally:
        other.close()
    with desk.store.read() as session:
        kept = list(session.scalars(select(AttemptRow)))
    # What is over is not kept, and what is kept names nobody.
    assert all(row.until > clock[0] for row in kept)
    assert all(len(row.digest) == 64 for row in kept)


def test_a_wrong_name_and_a_wrong_password_sound_alike(
    desk: Desk, roles: dict[str, TestClient]
) -> None:
    assert roles
    client = browser(desk)
    a = client.post("/sign-in", data={"login": "leader", "secret": "wrong wrong wrong"})
    b = client.post("/sign-in", data={"login": "no-such-person", "secret": "wrong wrong wrong"})
    assert (a.status_code, a.text) == (b.status_code, b.text)


def test_deleting_a_singer_ends_the_account(desk: Desk, tmp_path: Path) -> None:
    with desk.store.write() as session:
        person = add_person(session, "Tom", "man").id
    client = joined(desk, "singer", "tom", person)
    assert client.get("/").status_code == 200
    assert client.post(f"/singers/{person}/delete").status_code == 303
    assert client.get("/").status_code == 303
    with desk.store.read() as session:
        assert session.scalar(select(AccountRow).where(AccountRow.login == "tom")) is None
