"""Words, tone and plan by the pages alone: what a newcomer does first."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from lxml import html
from starlette.testclient import TestClient

from chantwright.parish import found_folder
from chantwright.parish.plan import read_plan
from chantwright.score import hymnfile
from chantwright.web.app import make_app
from chantwright.web.desk import Desk

WORDS = "The boats came in before the dawn,\nand no one spoke of the sea.\n"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    found_folder(tmp_path / "parish", "A chapel by the harbour")
    opened = Desk.open(tmp_path / "parish", date(2026, 11, 25))
    yield opened
    opened.close()


@pytest.fixture
def client(desk: Desk) -> Iterator[TestClient]:
    with TestClient(
        make_app(desk), base_url="http://127.0.0.1:8642", follow_redirects=True
    ) as found:
        yield found


def shown(answer: object) -> str:
    return " ".join(html.fromstring(str(getattr(answer, "text", ""))).text_content().split())


def test_words_become_a_hymn_in_the_tone_asked_for(client: TestClient, desk: Desk) -> None:
    answer = client.post("/write", data={"words": WORDS, "tone": "4"})
    assert answer.url.path == "/hymn/the-boats-came-in-before-the.txt"
    kept = hymnfile.read(desk.folder.hymns / "the-boats-came-in-before-the.txt")
    assert (kept.tone, kept.title) == (4, "The boats came in before the")
    assert "Fourth" in shown(answer) or "Tone 4" in shown(answer)


def test_a_look_writes_nothing_and_shows_the_stresses(client: TestClient, desk: Desk) -> None:
    answer = client.post("/write", data={"words": WORDS, "name": "Boats", "do": "look"})
    # Dictionary stress: be-FORE (CMUdict, B IH0 F AO1 R).
    assert "be-ˈfore" in answer.text
    assert not list(desk.folder.hymns.iterdir())
    page = html.fromstring(answer.text)
    assert page.xpath("//textarea")[0].text.strip() == WORDS.strip()
    assert page.xpath("//input[@name='name']/@value") == ["Boats"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("", "no words yet"),
        ("tone: nine\n\nThe boats came in.", "nine"),
        ("x" * 100_001, "100,000 letters"),
    ],
)
def test_what_cannot_be_read_comes_back_as_it_was(
    client: TestClient, desk: Desk, words: str, told: str
) -> None:
    answer = client.post("/write", data={"words": words})
    assert answer.status_code == 400
    assert told in shown(answer)
    assert html.fromstring(answer.text).xpath("//textarea")[0].text.strip() == words.strip()
    assert not list(desk.folder.hymns.iterdir())


def test_two_hymns_of_one_name_are_two_files(client: TestClient, desk: Desk) -> None:
    for _ in range(2):
        client.post("/write", data={"words": WORDS, "name": "Boats"})
    assert sorted(p.name for p in desk.folder.hymns.iterdir()) == ["boats-2.txt", "boats.txt"]


def test_words_for_an_item_stand_in_its_plan(client: TestClient, desk: Desk) -> None:
    plan_page = html.fromstring(client.get("/plan/0").text)
    link = next(str(a) for a in plan_page.xpath("//a/@href") if "item=aposticha&" in f"{a}&")
    assert link == "/write?place=0&item=aposticha"
    form = html.fromstring(client.get(link).text)
    given = {str(i.get("name")): str(i.get("value")) for i in form.xpath("//main//input[@name]")}
    answer = client.post("/write", data={**given, "words": WORDS, "name": "Boats"})
    assert answer.url.path == "/hymn/boats.txt"
    plan = read_plan(Path(desk.weekend().sessions[0].plan_file))
    assert {line.item: line.file for line in plan.lines if line.file} == {"aposticha": "boats.txt"}
    # The tone of the week (29 November 2026: tone 1, printed calendars) is taken for it.
    assert hymnfile.read(desk.folder.hymns / "boats.txt").tone is None
    assert "First" in shown(client.get("/")) or "Tone 1" in shown(client.get("/"))


def plan_form(client: TestClient, place: int = 0) -> dict[str, str]:
    page = html.fromstring(client.get(f"/plan/{place}").text)
    given = {str(i.get("name")): str(i.get("value")) for i in page.xpath("//input[@name='stamp']")}
    for select in page.xpath("//main//select"):
        chosen = select.xpath("option[@selected]/@value") or [""]
        given[str(select.get("name"))] = str(chosen[0])
    return given


def test_the_plan_is_changed_and_its_other_lines_stay(client: TestClient, desk: Desk) -> None:
    client.post("/write", data={"words": WORDS, "name": "Boats"})
    path = Path(desk.weekend().sessions[0].plan_file)
    path.write_text(path.read_text("utf-8") + "# ask Father about the litia\n", "utf-8")
    before = path.read_text("utf-8").splitlines()
    lines = read_plan(path).lines
    at = [line.item for line in lines].index("aposticha")
    out = [line.item for line in lines].index("litia")
    form = {**plan_form(client), f"file{at}": "boats.txt", f"tone{at}": "6", f"out{out}": "true"}
    assert client.post("/plan/0", data=form).url.path == "/"
    after = path.read_text("utf-8").splitlines()
    expected = [
        "aposticha: boats.txt (tone 6)" if line == "aposticha:" else line
        for line in before
        if line != "litia:"
    ]
    assert after == expected
    # What was taken out can be put in again.
    form = {**plan_form(client), "added": "litia"}
    assert client.post("/plan/0", data=form).url.path == "/plan/0"
    assert "litia" in [line.item for line in read_plan(path).lines]


def test_a_plan_changed_meanwhile_is_not_written_over(client: TestClient, desk: Desk) -> None:
    form = plan_form(client)
    path = Path(desk.weekend().sessions[0].plan_file)
    path.write_text(path.read_text("utf-8") + "# from my editor\n", "utf-8")
    held = path.read_bytes()
    answer = client.post("/plan/0", data=form)
    assert answer.status_code == 400
    assert "changed meanwhile" in shown(answer)
    assert path.read_bytes() == held


@pytest.mark.parametrize(
    "change", [{"file0": "../../etc/passwd"}, {"file0": "none.txt"}, {"tone0": "9"}]
)
def test_a_plan_takes_nothing_that_is_not_there(
    client: TestClient, desk: Desk, change: dict[str, str]
) -> None:
    form = plan_form(client)
    held = Path(desk.weekend().sessions[0].plan_file).read_bytes()
    assert client.post("/plan/0", data={**form, **change}).status_code in (400, 404)
    assert Path(desk.weekend().sessions[0].plan_file).read_bytes() == held


def test_the_file_is_changed_as_text_and_taken_back(client: TestClient, desk: Desk) -> None:
    client.post("/write", data={"words": WORDS, "name": "Boats", "tone": "2"})
    path = desk.folder.hymns / "boats.txt"
    held = path.read_bytes()
    page = html.fromstring(client.get("/text/boats.txt").text)
    stamp = page.xpath("//input[@name='stamp']/@value")[0]
    text = "title: Boats\ntone: 3\n\nThe boats came in | before the dawn. |||\n"
    answer = client.post(
        "/text/boats.txt", data={"words": text.replace("\n", "\r\n"), "stamp": stamp}
    )
    assert answer.url.path == "/hymn/boats.txt"
    assert path.read_text("utf-8") == text
    # An older window does not write over it.
    answer = client.post("/text/boats.txt", data={"words": WORDS, "stamp": stamp})
    assert answer.status_code == 400
    assert path.read_text("utf-8") == text
    client.post("/hymn/boats.txt/undo")
    assert path.read_bytes() == held


def test_a_slip_in_the_file_says_its_line(client: TestClient, desk: Desk) -> None:
    client.post("/write", data={"words": WORDS, "name": "Boats", "tone": "2"})
    held = (desk.folder.hymns / "boats.txt").read_bytes()
    page = html.fromstring(client.get("/text/boats.txt").text)
    stamp = page.xpath("//input[@name='stamp']/@value")[0]
    text = "tone: 3\n\nThe boats came in.\nnotes: pa vou pizza di\n"
    answer = client.post("/text/boats.txt", data={"words": text, "stamp": stamp})
    assert answer.status_code == 400
    assert "Line 4" in shown(answer)
    assert "pizza" in shown(answer)
    assert (desk.folder.hymns / "boats.txt").read_bytes() == held


def buttons(client: TestClient) -> str:
    page = html.fromstring(client.get("/hymn/boats.txt").text)
    return " | ".join(b.text for b in page.xpath("//h2[@id='changes']/following::button"))


def test_changes_are_taken_back_after_a_restart_and_by_another_server(
    client: TestClient, desk: Desk
) -> None:
    client.post("/write", data={"words": WORDS, "name": "Boats", "tone": "2"})
    path = desk.folder.hymns / "boats.txt"
    files = [path.read_bytes()]
    for what in ("up", "longer"):
        client.post("/hymn/boats.txt/note", data={"id": "p1s2n1", "what": what})
        files.append(path.read_bytes())
    second = Desk.open(desk.path, desk.day)  # as after a restart; and both go on side by side
    try:
        other = TestClient(make_app(second), base_url=str(client.base_url))
        assert "Take back the last change (2)" in buttons(other)
        assert other.post("/hymn/boats.txt/undo").status_code == 200
        assert path.read_bytes() == files[1]
        for told in ("Take back the last change (1)", "Bring back what was taken back (1)"):
            assert told in buttons(client)
        client.post("/hymn/boats.txt/undo")
        assert path.read_bytes() == files[0]
        assert "Bring back what was taken back (2)" in buttons(other)
        for number in (1, 2):
            other.post("/hymn/boats.txt/again")
            assert path.read_bytes() == files[number]
        answer = client.post("/hymn/boats.txt/again")
        assert answer.status_code == 400
        assert "nothing to bring back" in answer.text
    finally:
        second.close()


def test_a_new_hymn_has_no_changes_of_an_older_one_of_its_name(
    client: TestClient, desk: Desk
) -> None:
    form = {"words": WORDS, "name": "Boats", "tone": "2"}
    client.post("/write", data=form)
    path = desk.folder.hymns / "boats.txt"
    client.post("/hymn/boats.txt/keep")
    assert "Take back" in buttons(client)
    path.unlink()
    path.with_name(path.name + "~").unlink()
    client.post("/write", data=form)
    assert "Keep this melody" in buttons(client)
    assert "Take back" not in buttons(client)
