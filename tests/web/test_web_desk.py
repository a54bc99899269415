from __future__ import annotations

import io
import json
import re
import select
import socket
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pdfplumber
import pytest
import soundfile
from browsing import Served
from lxml import html
from starlette.testclient import TestClient

from chantwright.parish import copy_demo
from chantwright.parish.records import assignments
from chantwright.score import hymnfile
from chantwright.voice import TrackOptions, sing
from chantwright.web.app import make_app
from chantwright.web.desk import Desk
from chantwright.web.editing import phrase_alone
from chantwright.web.guard import HEADERS
from chantwright.web.soundpages import LARGEST

DAY = date(2026, 11, 25)
HYMN = "lord-i-cry.txt"
SUNDAY = "god-is-the-lord.txt"
PAGES = (
    "/", "/hymns", f"/hymn/{HYMN}", f"/hymn/{HYMN}?reading=neumes", f"/hymn/{HYMN}?reading=letters",
    f"/hymn/{HYMN}?reading=words", f"/hymn/{HYMN}/ways/p1", "/singers", "/assign", "/course",
    "/stand/0", f"/hear/{HYMN}", "/write", "/plan/0", f"/text/{HYMN}",
)  # fmt: skip


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    path = tmp_path_factory.mktemp("desk") / "parish"
    copy_demo(path)
    opened = Desk.open(path, DAY)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def client(desk: Desk) -> Iterator[TestClient]:
    with TestClient(make_app(desk), base_url="http://127.0.0.1:8642") as found:
        yield found


@pytest.mark.parametrize("address", PAGES)
def test_pages_keep_their_own_rules(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 200
    for name, value in HEADERS.items():
        assert answer.headers[name] == value
    page = html.fromstring(answer.text)
    # The policy of the pages forbids inline scripts and styles (W3C CSP level 3).
    assert not page.xpath("//@style")
    assert not page.xpath("//script[not(@src)]")
    assert not page.xpath("//style")
    assert not page.xpath("//@*[starts-with(name(), 'on')]")
    for link in page.xpath("//@src | //@href | //@action"):
        assert str(link).startswith(("/", "#", "data:")), link
    ids = page.xpath("//@id")
    assert len(ids) == len(set(ids))
    # Every control has a name that can be read out (WCAG 2.2, 4.1.2).
    for control in page.xpath("//input[not(@type='hidden')] | //select | //textarea"):
        named = (
            page.xpath(f"//label[@for='{control.get('id')}']")
            or control.xpath("ancestor::label")
            or control.get("aria-label")
        )
        assert named, html.tostring(control)


def test_the_week_says_tones_and_leads_to_hymns(client: TestClient) -> None:
    page = html.fromstring(client.get("/").text)
    text = page.text_content()
    # 29 November 2026 is in tone 1 (new calendar): common practice.
    assert "Great Vespers" in text
    assert "Tone 1" in text
    for link in page.xpath("//ol[@class='order']//a/@href")[:3]:
        assert client.get(link).status_code == 200


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "[::2]"])
def test_other_names_are_refused(client: TestClient, host: str) -> None:
    # DNS rebinding: another site's name that leads to this computer.
    assert client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [{"sec-fetch-site": "cross-site"}, {"sec-fetch-site": "same-site"},
     {"origin": "https://evil.example"}, {"origin": "null"}],
)  # fmt: skip
def test_nothing_is_changed_from_another_site(
    client: TestClient, desk: Desk, headers: dict[str, str]
) -> None:
    before = desk.hymn_path(HYMN).read_bytes()
    answer = client.post(f"/hymn/{HYMN}/keep", headers=headers, follow_redirects=False)
    assert answer.status_code == 403
    assert desk.hymn_path(HYMN).read_bytes() == before


@pytest.mark.parametrize(
    "name",
    ["../parish.toml", "..%2fparish.toml", "%2e%2e/parish.toml", "/etc/passwd", "none.txt",
     "x%00.txt", "a" * 300 + ".txt", "..\\parish.toml"],
)  # fmt: skip
def test_no_way_out_of_the_folder(client: TestClient, name: str) -> None:
    for address in (f"/hymn/{name}", f"/sound/{name}.opus", f"/hear/{name}"):
        answer = client.get(address)
        assert answer.status_code in (400, 404), address
        assert "root:" not in answer.text
        assert "Harbour" not in answer.text


def degrees(desk: Desk) -> list[list[int]]:
    hymn = desk.singable(HYMN)
    return [[n.degree for s in p.syllables for n in s.notes] for p in hymn.phrases]


def test_edits_are_written_and_taken_back(client: TestClient, desk: Desk) -> None:
    before, file = degrees(desk), desk.hymn_path(HYMN).read_bytes()
    answer = client.post(f"/hymn/{HYMN}/note", data={"id": "p1s2n1", "what": "up"})
    assert answer.status_code == 200
    assert hymnfile.read(desk.hymn_path(HYMN)).is_set
    after = degrees(desk)
    assert after[1:] == before[1:]
    assert [b - a for a, b in zip(before[0], after[0], strict=True)].count(1) == 1
    client.post(f"/hymn/{HYMN}/note", data={"id": "p1s2n1", "what": "longer"})
    for _ in range(2):
        client.post(f"/hymn/{HYMN}/undo")
    assert desk.hymn_path(HYMN).read_bytes() == file
    assert degrees(desk) == before
    answer = client.post(f"/hymn/{HYMN}/undo")
    assert answer.status_code == 400
    assert "nothing to take back" in answer.text


def test_another_way_changes_that_phrase_alone(client: TestClient, desk: Desk) -> None:
    before = degrees(desk)
    page = html.fromstring(client.get(f"/hymn/{HYMN}/ways/p2").text)
    assert len(page.xpath("//button[@name='number']")) >= 3
    client.post(f"/hymn/{HYMN}/way", data={"phrase": "p2", "number": "2"})
    after = degrees(desk)
    assert after[1] != before[1]
    assert after[:1] + after[2:] == before[:1] + before[2:]
    client.post(f"/hymn/{HYMN}/undo")
    assert degrees(desk) == before


@pytest.mark.parametrize(
    "data",
    [{"id": "p9s9n9", "what": "up"}, {"id": "p1s1n1", "what": "sideways"},
     {"id": "'; --", "what": "up"},
     {"id": "p1s1n1"}, {}],
)  # fmt: skip
def test_edits_that_mean_nothing_are_told(
    client: TestClient, desk: Desk, data: dict[str, str]
) -> None:
    before = desk.hymn_path(HYMN).read_bytes()
    answer = client.post(f"/hymn/{HYMN}/note", data=data)
    assert answer.status_code in (400, 404, 422)
    assert "Traceback" not in answer.text
    assert desk.hymn_path(HYMN).read_bytes() == before


def test_sound_comes_in_parts_with_its_times(client: TestClient, desk: Desk) -> None:
    stem = HYMN.removesuffix(".txt")
    answer = client.get(
        f"/sound/{stem}.opus?part=melody&sung=vowel", headers={"range": "bytes=0-99"}
    )
    assert answer.status_code == 206
    assert answer.content[:4] == b"OggS"
    assert len(answer.content) == 100
    told = client.get(f"/sound/{stem}.json?part=melody&sung=vowel").json()
    hymn = desk.singable(HYMN)
    names = {
        f"{s.id}n{i + 1}" for p in hymn.phrases for s in p.syllables for i in range(len(s.notes))
    }
    assert {n["id"] for n in told["notes"] if not n["id"].startswith("intonation")} == names
    assert client.get(f"/sound/{stem}.exe").status_code == 404
    assert client.get(f"/sound/{stem}.opus?part=everything").status_code == 404


def test_one_phrase_is_sung_alone(client: TestClient, desk: Desk) -> None:
    stem = HYMN.removesuffix(".txt")
    hymn = desk.singable(HYMN)
    asked = f"/sound/{stem}.json?part=melody&sung=vowel"
    whole = client.get(asked).json()["notes"]
    for intonation in ("none", "short"):
        told = client.get(f"{asked}&phrase=p2&intonation={intonation}").json()["notes"]
        first = [n for n in told if n["id"].startswith("intonation")]
        rest = [n for n in told if not n["id"].startswith("intonation")]
        assert bool(first) is (intonation == "short")
        phrase = next(p for p in hymn.phrases if p.id == "p2")
        names = [f"{s.id}n{i + 1}" for s in phrase.syllables for i in range(len(s.notes))]
        assert [n["id"] for n in rest] == names
        # The same notes as in the whole hymn, as long and as high.
        there = {n["id"]: n for n in whole}
        for note in rest:
            like = there[note["id"]]
            assert note["hz"] == pytest.approx(like["hz"])
            assert note["end"] - note["start"] == pytest.approx(
                like["end"] - like["start"], abs=0.02
            )
    # Nothing is ticked before it: it is heard at once.
    assert client.get(f"{asked}&phrase=p2&intonation=none").json()["notes"][0]["start"] < 0.6
    assert client.get(f"/sound/{stem}.opus?phrase=p99").status_code == 404
    assert client.get(f"/sound/{stem}.opus?phrase=p1&intonation=endless").status_code == 404


def test_a_phrase_alone_keeps_the_scale_it_stands_in(desk: Desk) -> None:
    hymn = desk.singable(HYMN)
    first, second, third = hymn.phrases[:3]
    changed = replace(hymn, phrases=(first, replace(second, scale="soft_chromatic"), third))
    assert phrase_alone(changed, first.id).phrases == (first,)
    assert phrase_alone(changed, third.id).phrases[0].scale == "soft_chromatic"


def take(desk: Desk, name: str = HYMN) -> bytes:
    hymn = desk.singable(name)
    options = TrackOptions(mode="melody", intonation="none", count_in=0, sung="vowel")
    track = sing(hymn, desk.knowledge.tones, options)
    out = io.BytesIO()
    soundfile.write(out, track.samples, track.rate, format="FLAC")
    return out.getvalue()


def test_a_take_is_heard_and_written_down_without_its_sound(client: TestClient, desk: Desk) -> None:
    made = client.post("/singers", data={"nickname": "Anna", "voice": "woman"})
    person = str(made.url).rpartition("/")[2]
    answer = client.post(
        f"/hear/{HYMN}",
        files={"take": ("take.flac", take(desk), "audio/flac")},
        data={"singer": person, "level": "regular"},
    )
    assert answer.status_code == 200, answer.text
    assert "Written down for Anna" in answer.text
    assert (
        not list((desk.path / "recordings").glob("*"))
        if (desk.path / "recordings").exists()
        else True
    )
    shown = client.get(f"/singers/{person}").text
    assert "sung 1 time" in shown
    told = json.loads(client.get(f"/singers/{person}/all.json").text)
    assert told["result"][0]["wrong"] == 0
    # After an agreement the sound is kept, under a name that says nothing, until it is deleted.
    client.post(f"/singers/{person}/consent", data={"given_by": "Anna"})
    client.post(
        f"/hear/{HYMN}", files={"take": ("take.flac", take(desk), "audio/flac")},
        data={"singer": person},
    )  # fmt: skip
    kept = list((desk.path / "recordings").iterdir())
    assert len(kept) == 1
    client.post(f"/singers/{person}/delete")
    assert not list((desk.path / "recordings").iterdir())
    assert client.get(f"/singers/{person}").status_code == 404
    with sqlite3.connect(desk.path / "records.sqlite") as base:
        dump = "\n".join(base.iterdump())
    base.close()
    assert person not in dump
    assert "Anna" not in dump


def test_hymns_are_given_to_singers(client: TestClient, desk: Desk) -> None:
    people = {}
    for name in ("Zoe", "Mark"):
        made = client.post("/singers", data={"nickname": name, "voice": "woman"})
        people[name] = str(made.url).rpartition("/")[2]
    page = html.fromstring(client.get("/assign").text)
    offered = page.xpath("//input[@name='hymns']/@value")
    assert set(offered) == set(desk.hymns())
    # In the order of singing: the first kathisma before "Lord, I cry" (common practice).
    assert offered.index("blessed-is-the-man.txt") < offered.index(HYMN) < offered.index(SUNDAY)
    answer = client.post(
        "/assign",
        data={"hymns": [HYMN, SUNDAY], "singers": [people["Zoe"]],
              "leader": people["Mark"]},
    )  # fmt: skip
    assert answer.status_code == 200
    text = " ".join(html.fromstring(answer.text).text_content().split())
    # Great Vespers is sung on the Saturday evening, Orthros on the Sunday: common practice.
    assert "by Saturday 28 November" in text
    assert "by Sunday 29 November" in text
    own = client.get(f"/singers/{people['Mark']}").text
    assert "leads it" in own
    assert "0 of 6 shown" in own
    assert "leads it" not in client.get(f"/singers/{people['Zoe']}").text
    with desk.store.read() as session:
        given = assignments(session, people["Zoe"])
    assert len(given) == 2
    client.post(f"/assign/{given[0].id}/take-back")
    client.post(f"/assign/{given[1].id}/learned")
    assert "Nothing given" in client.get(f"/singers/{people['Zoe']}").text
    for wrong in ({"hymns": [HYMN]}, {"singers": [people["Zoe"]]}, {},
                  {"hymns": ["../parish.toml"], "singers": [people["Zoe"]]},
                  {"hymns": [HYMN], "singers": ["nobody"]},
                  {"hymns": [HYMN], "singers": [people["Zoe"]], "by": "soon"}):  # fmt: skip
        answer = client.post("/assign", data=wrong)
        assert answer.status_code in (400, 404)
        assert html.fromstring(answer.text).xpath("//*[@role='alert']")
    for person in people.values():
        client.post(f"/singers/{person}/delete")
    with desk.store.read() as session:
        assert assignments(session) == ()


def tone(seconds: float = 1.0) -> bytes:
    out = io.BytesIO()
    soundfile.write(out, np.zeros(int(16000 * seconds)), 16000, format="WAV")
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "status"),
    [(b"", 400), (b"RIFF", 400), (b"\x00" * 5000, 400), (b"<html>", 400), (tone()[:200], 200),
     (tone(0.001), 200), (tone(), 200)],
)  # fmt: skip
def test_junk_is_told_in_a_sentence(client: TestClient, data: bytes, status: int) -> None:
    answer = client.post(f"/hear/{HYMN}", files={"take": ("take.wav", data, "audio/wav")})
    assert answer.status_code in (status, 400)
    assert "Traceback" not in answer.text
    if answer.status_code == 200:
        # Silence is nothing sung, and never a number.
        assert "moria off" not in answer.text
        assert not html.fromstring(answer.text).xpath("//figure")


def test_too_large_a_take_is_refused(client: TestClient) -> None:
    answer = client.post(
        f"/hear/{HYMN}", files={"take": ("take.wav", b"\x00" * (LARGEST + 1), "audio/wav")}
    )
    assert answer.status_code == 400
    assert "million bytes" in answer.text


def test_what_comes_without_end_is_cut_off(desk: Desk) -> None:
    server, sent = Served(make_app(desk)), 0
    head = (
        f"POST /hear/{HYMN} HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\n"
        "Content-Type: multipart/form-data; boundary=x\r\n\r\n"
    )
    start = b'--x\r\ncontent-disposition: form-data; name="take"; filename="a.wav"\r\n\r\n'
    piece = b"\x00" * 1_000_000
    try:
        port = int(server.address.rpartition(":")[2])
        with socket.create_connection(("127.0.0.1", port), 30) as line:
            line.sendall(head.encode() + b"%x\r\n%b\r\n" % (len(start), start))
            while not select.select([line], [], [], 0)[0] and sent < 10 * LARGEST:
                line.sendall(b"%x\r\n%b\r\n" % (len(piece), piece))
                sent += len(piece)
            assert line.recv(12) == b"HTTP/1.1 413"
    finally:
        server.stop()
    assert LARGEST < sent < 1.5 * LARGEST  # a little more was on its way


def test_a_minor_needs_a_guardian(client: TestClient) -> None:
    made = client.post(
        "/singers", data={"nickname": "Pip", "voice": "child", "low": "C4", "high": "C5"}
    )
    person = str(made.url).rpartition("/")[2]
    page = client.get(f"/singers/{person}").text
    assert "under age" in page
    assert "C4" in page
    assert client.post(f"/singers/{person}/consent", data={"given_by": "Pip"}).status_code == 400
    answer = client.post(
        f"/singers/{person}/consent", data={"given_by": "Pip's father", "guardian": "true"}
    )
    assert answer.status_code == 200
    client.post(f"/singers/{person}/delete")


def test_names_cannot_carry_markup(client: TestClient) -> None:
    made = client.post("/singers", data={"nickname": "<script>alert(1)</script>", "voice": "man"})
    person = str(made.url).rpartition("/")[2]
    for address in ("/singers", f"/singers/{person}", f"/hear/{HYMN}"):
        assert "<script>alert" not in client.get(address).text
    client.post(f"/singers/{person}/delete")


def test_paper_and_handout(client: TestClient) -> None:
    for address in (f"/hymn/{HYMN}/print.pdf?reading=neumes", "/course/1.pdf"):
        answer = client.get(address)
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.content.startswith(b"%PDF")
    assert client.get("/course/99.pdf").status_code == 404


def test_the_print_link_asks_for_what_is_on_the_page_or_for_the_parishs_readings(
    client: TestClient,
) -> None:
    for asked in ("", "?reading=neumes"):
        page = html.fromstring(client.get(f"/hymn/{HYMN}{asked}").text)
        (link,) = page.xpath("//a[contains(@href, 'print.pdf')]/@href")
        assert link.endswith(f"/print.pdf{asked}")


def test_a_handout_is_drawn_once_for_the_same_content(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = client.get("/course/2.pdf").content

    def never(*_: object) -> None:
        raise AssertionError("it is drawn again")

    monkeypatch.setattr("chantwright.web.weekpages.handout_pdf", never)
    assert client.get("/course/2.pdf").content == first


def test_paper_takes_every_look(client: TestClient) -> None:
    page = html.fromstring(client.get("/").text)
    asked = page.xpath("//form[@action='/booklet.pdf']")[0]
    assert asked.xpath(".//input[@name='reading']/@value") == [
        "staff", "neumes", "letters", "words",
    ]  # fmt: skip
    assert asked.xpath(".//input[@checked]/@value") == ["staff"]
    names = asked.xpath(".//select/@name")
    assert names == ["form", "letters", "script", "size", "ink"]
    assert set(asked.xpath(".//select/@id")) == set(asked.xpath(".//label/@for"))
    whole = f"/hymn/{HYMN}/print.pdf?reading=words&reading=letters&script=greek&size=large"
    with pdfplumber.open(io.BytesIO(client.get(whole).content)) as pdf:
        text = " ".join(page.extract_text() or "" for page in pdf.pages)
    assert "Δι" in text
    for once in ("and the lifting", "and the lift ing"):  # words; under letters
        assert once in " ".join(text.split())
    for wrong in ("reading=braille", "form=scroll", "size=large&form=phone", "letters=german"):
        answer = client.get(f"/hymn/{HYMN}/print.pdf?{wrong}")
        assert answer.status_code < 500
        assert "pdf" not in answer.headers["content-type"]
        assert "Choose" in answer.text


def test_the_stand_needs_nothing_more_from_the_server(client: TestClient) -> None:
    page = html.fromstring(client.get("/stand/0").text)
    articles = page.xpath("//article")
    assert len(articles) >= 8
    sung = [a for a in articles if a.xpath(".//svg")]
    for article in sung:
        told = json.loads(article.get("data-sound"))
        assert told["intonation"]
        assert all(50 < change["hz"] < 1200 for change in told["ison"] if change["hz"])
        assert told["ison"][0]["name"] == article.xpath(".//*[@data-held]")[0].text
    # Each item but the last names what follows.
    assert len(page.xpath("//article/footer")) == len(articles) - 1
    assert client.get("/stand/99").status_code == 404


def test_a_look_is_remembered_and_leads_nowhere_else(client: TestClient) -> None:
    answer = client.post(
        "/light", data={"look": "dim", "back": "//evil.example"}, follow_redirects=False
    )
    assert answer.headers["location"] == "/"
    assert 'data-light="dim"' in client.get("/").text
    client.post("/light", data={"look": "auto", "back": "/"})


def test_scripts_are_small() -> None:
    folder = Path(__file__).parents[2] / "src" / "chantwright" / "web" / "static"
    size = sum(p.stat().st_size for p in folder.glob("*.js"))
    assert size < 60_000
    for script in folder.glob("*.js"):
        text = script.read_text(encoding="utf-8")
        assert not re.search(r"https?://", text)


def test_one_edit_sets_nothing_else_anew(
    client: TestClient, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = desk.weekend()
    client.post(f"/hymn/{HYMN}/note", data={"id": "p1s2n1", "what": "up"})

    def never(*_: object, **__: object) -> None:
        raise AssertionError("a hymn that was not touched is set anew")

    monkeypatch.setattr("chantwright.parish.singable.set_hymn", never)
    after = desk.weekend()
    assert after is not before
    client.post(f"/hymn/{HYMN}/undo")
    assert desk.weekend().sessions == before.sessions
