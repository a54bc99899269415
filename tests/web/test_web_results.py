"""Results handed in on a page: pasted or as files, all or nothing, for the teacher alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from lxml import html
from starlette.testclient import TestClient

from chantwright.parish import found_folder
from chantwright.parish.practice import due
from chantwright.parish.records import Result, add_person, results_of
from chantwright.web.app import make_app
from chantwright.web.desk import Desk
from chantwright.web.handin import write_handin
from chantwright.web.resultpages import LARGEST

SUNG = datetime(2024, 11, 20, 18, 0, 0, tzinfo=UTC)
GOOD = Result(
    "hymns/clap.txt", 24, 3, 1, 0.75, -1.5, SUNG, "pack",
    {"singer": "orla", "title": "Clap", "shift": 0.0, "degrees": {"pa": 0.25}},
)  # fmt: skip
PLAIN = write_handin(GOOD)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    found_folder(tmp_path / "parish", "One")
    opened = Desk.open(tmp_path / "parish", date(2026, 11, 25))
    yield opened
    opened.close()


@pytest.fixture
def client(desk: Desk) -> TestClient:
    return TestClient(make_app(desk), base_url="http://127.0.0.1")


@pytest.fixture
def people(desk: Desk) -> dict[str, str]:
    with desk.store.write() as session:
        return {n: add_person(session, n, "woman").id for n in ("Orla", "Finn")}


def kept(desk: Desk, person_id: str) -> tuple[Result, ...]:
    with desk.store.read() as session:
        return results_of(session, person_id)


def said(text: str, role: str) -> str:
    (found,) = html.fromstring(text).xpath(f"//main//*[@role='{role}']")
    return " ".join(found.text_content().split())


def test_what_was_pasted_is_taken_in_once(
    client: TestClient, desk: Desk, people: dict[str, str]
) -> None:
    message = "Dear teacher,\r\n\r\n" + PLAIN.replace("\n", "\r\n> ") + "\r\nOrla"
    answer = client.post("/results", data={"words": message})
    assert answer.status_code == 200
    told = said(answer.text, "status")
    assert told == "Orla: Clap, sung on 2024-11-20, 20 of 24 notes right taken in"
    # By the name that the records have for the hymn, so that it counts for what is due.
    assert kept(desk, people["Orla"]) == (replace(GOOD, hymn="clap.txt"),)
    with desk.store.read() as session:
        assert [d.hymn for d in due(session, people["Orla"])] == ["clap.txt"]
    again = client.post("/results", data={"words": PLAIN})
    assert "known already" in said(again.text, "status")
    assert len(kept(desk, people["Orla"])) == 1


def test_files_and_whose_they_are(client: TestClient, desk: Desk, people: dict[str, str]) -> None:
    later = replace(GOOD, sung=SUNG + timedelta(days=2), wrong=0)
    nobody = replace(GOOD, detail={**GOOD.detail, "singer": ""})
    files = [
        ("files", ("a.txt", write_handin(later).encode("utf-16"), "text/plain")),
        ("files", ("b.txt", write_handin(nobody).encode(), "text/plain")),
    ]
    answer = client.post("/results", files=files)
    assert answer.status_code == 400
    alert = said(answer.text, "alert")
    assert "b.txt: This result of “Clap” does not say whose it is." in alert
    assert "Choose the singer below." in alert
    assert kept(desk, people["Orla"]) == kept(desk, people["Finn"]) == ()  # all or nothing
    answer = client.post("/results", files=files, data={"singer": people["Finn"], "words": ""})
    assert answer.status_code == 200
    assert [r.sung for r in kept(desk, people["Finn"])] == [SUNG, later.sung]
    assert kept(desk, people["Orla"]) == ()


def test_an_older_result_that_comes_late_leaves_the_day_as_it_is(
    client: TestClient, desk: Desk, people: dict[str, str]
) -> None:
    later = replace(GOOD, sung=SUNG + timedelta(days=4), wrong=0)
    client.post("/results", data={"words": write_handin(later)})
    with desk.store.read() as session:
        before = [d.when for d in due(session, people["Orla"])]
    client.post("/results", data={"words": write_handin(replace(GOOD, wrong=20))})
    with desk.store.read() as session:
        assert [d.when for d in due(session, people["Orla"])] == before
    assert len(kept(desk, people["Orla"])) == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("", "Nothing was handed in"),
        ("  \n ", "Nothing was handed in"),
        ("Here it is!", "no result of a practice pack"),
        (PLAIN.replace("wrong: 3", "wrong: 0"), "cut short or changed on its way"),
        (PLAIN[:-4], "cut short or changed on its way"),
        (PLAIN[: PLAIN.index("off:")], "cut short or changed on its way"),
        (PLAIN + PLAIN.replace("24", "25"), "cut short or changed on its way"),
        (write_handin(replace(GOOD, detail={**GOOD.detail, "singer": "<b>Eve"})), "no singer “<b>"),
        ("x" * 200_001, "too long"),
    ],
)
def test_what_is_refused_is_told_and_stays_on_the_page(
    client: TestClient, desk: Desk, people: dict[str, str], words: str, says: str
) -> None:
    answer = client.post("/results", data={"words": words, "singer": ""})
    assert answer.status_code == 400
    alert = said(answer.text, "alert")
    assert says in alert
    assert alert[0].isupper()
    assert "Nothing was taken in" in alert
    page = html.fromstring(answer.text)
    assert page.xpath("string(//textarea)").strip() == words.strip()
    assert not page.xpath("//main//b/b")
    assert kept(desk, people["Orla"]) == ()


@pytest.mark.parametrize("data", [b"\xff\x00\x80", b"", b"\x89PNG\r\n\x1a\n" * 100])
def test_a_file_that_is_no_result_is_named(
    client: TestClient, people: dict[str, str], data: bytes
) -> None:
    answer = client.post("/results", files={"files": ("mine.bin", data, "text/plain")})
    assert answer.status_code == 400
    assert said(answer.text, "alert").startswith("mine.bin: ")


def test_bytes_are_counted(client: TestClient, desk: Desk, people: dict[str, str]) -> None:
    for size in (LARGEST - 5_000, LARGEST + 1, 6 * LARGEST):
        files = {"files": ("much.txt", b"a" * size, "text/plain")}
        answer = client.post("/results", files=files, data={"words": PLAIN})
        assert answer.status_code == 400, size
        assert said(answer.text, "alert").startswith("much.txt: This is ")
        assert ("1 million bytes" in answer.text) == (size > LARGEST)
        assert html.fromstring(answer.text).xpath("string(//textarea)").strip() == PLAIN.strip()
    for letters in (LARGEST // 2 + 1, 5 * LARGEST):  # of two bytes each
        answer = client.post("/results", data={"words": "ä" * letters})
        assert answer.status_code == 400
        assert len(said(answer.text, "alert")) > 20
    many = [("files", (f"{i}.txt", b"a", "text/plain")) for i in range(150)]
    answer = client.post("/results", files=many)
    assert answer.status_code == 400
    assert len(said(answer.text, "alert")) > 20

    def drop_by_drop() -> Iterator[bytes]:  # no length is told before
        yield b'--x\r\ncontent-disposition: form-data; name="words"\r\n\r\n'
        for _ in range(40):
            yield b"a" * 50_000
        yield b"\r\n--x--\r\n"

    kind = {"content-type": "multipart/form-data; boundary=x"}
    answer = client.post("/results", content=drop_by_drop(), headers=kind)
    assert answer.status_code == 400
    assert len(said(answer.text, "alert")) > 20
    assert kept(desk, people["Orla"]) == ()


def test_nobody_elses_records(client: TestClient, people: dict[str, str]) -> None:
    answer = client.post("/results", data={"words": PLAIN, "singer": "no-such-singer"})
    assert answer.status_code == 404
