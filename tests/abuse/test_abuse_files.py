"""Files that mean harm: bombs, entities, scripts, patterns that take for ever, names in archives.

References
----------
OWASP cheat sheets on XML external entities and on regular expression denial of service. D. Fifield,
"A better zip bomb", WOOT 2019. SVG 2, section 15 (scripting).
"""

from __future__ import annotations

import ast
import contextlib
import importlib
import io
import pkgutil
import re
import signal
import tracemalloc
import xml.etree.ElementTree as ET
import zipfile
from functools import cache
from importlib import resources
from pathlib import Path
from types import FrameType, ModuleType

import docx
import pypdf
import pytest
from pypdf.generic import DecodedStreamObject, NameObject

import chantwright
from chantwright import words
from chantwright.engrave import Booklet, Entry, booklet_pdf, lines, to_mei, to_musicxml
from chantwright.engrave.readings import READINGS, blocks
from chantwright.errors import ChantError
from chantwright.parish import copy_demo, group_singers, load_knowledge, make_singable
from chantwright.parish.records import back_up, open_store, restore
from chantwright.score import Hymn, hymnfile
from chantwright.score.musicxml import loads_musicxml
from chantwright.web.views import READINGS as SHOWN

BILLION = (
    '<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "lol"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
    + "".join(f'<!ENTITY {chr(98 + i)} "{f"&{chr(97 + i)};" * 10}">' for i in range(1, 12))
    + "]>"
)
OUTSIDE = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY s SYSTEM "file:///etc/passwd">]>'
PARAMETER = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY % p SYSTEM "file:///etc/passwd"> %p;]>'
SCORE = (
    "<score-partwise><part-list/><part id='P1'><measure><note><pitch><step>C</step>"
    "<octave>4</octave></pitch><duration>1</duration><lyric><text>{}</text></lyric></note>"
    "</measure></part></score-partwise>"
)


def small(data: bytes, use: object) -> None:
    """Run with a watch on the memory."""
    tracemalloc.start()
    try:
        use(data)  # type: ignore[operator]
    finally:
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert most < 150_000_000, f"{most} bytes"


@pytest.mark.parametrize("head", [BILLION, OUTSIDE, PARAMETER])
def test_entities_open_nothing_in_a_score(head: str) -> None:
    for text in ("&l;", "&s;", "plain"):
        with pytest.raises(ChantError) as caught:
            small((head + SCORE.format(text)).encode(), loads_musicxml)
        assert "root:" not in str(caught.value)


@pytest.mark.parametrize("head", [BILLION, OUTSIDE, PARAMETER])
@pytest.mark.parametrize("part", ["word/document.xml", "word/styles.xml", "[Content_Types].xml",
                                  "word/_rels/document.xml.rels", "docProps/core.xml"])  # fmt: skip
def test_entities_open_nothing_in_any_part_of_a_word_file(
    head: str, part: str, tmp_path: Path
) -> None:
    out = io.BytesIO()
    made = docx.Document()
    made.add_paragraph("O Lord, hear me.")
    made.save(out)
    path = tmp_path / "a.docx"
    with zipfile.ZipFile(io.BytesIO(out.getvalue())) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == part:
                body = data.decode().split("?>", 1)[1]
                data = (head + body.replace("hear me", "hear &l;&s;")).encode()
            new.writestr(name, data)
    try:
        assert "root:" not in words.read_document(path).text
    except ChantError as exc:
        assert "root:" not in str(exc)


# --- bombs ----------------------------------------------------------------------------------------


def bomb(names: list[str], size: int = 300_000_000) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as zipped:
        for name in names:
            with zipped.open(name, "w", force_zip64=True) as member:
                for _ in range(size // 10_000_000):
                    member.write(b"\0" * 10_000_000)
    return out.getvalue()


@pytest.fixture(scope="module")
def bombs() -> dict[str, bytes]:
    return {
        "mxl": bomb(["score.musicxml"]),
        "mxl container": bomb(["META-INF/container.xml"]),
        "docx": bomb(["[Content_Types].xml", "word/document.xml"]),
    }


def test_packed_bombs_never_fill_the_memory(bombs: dict[str, bytes], tmp_path: Path) -> None:
    assert all(len(b) < 2_000_000 for b in bombs.values())
    for kind in ("mxl", "mxl container"):
        with pytest.raises(ChantError):
            small(bombs[kind], loads_musicxml)
    path = tmp_path / "a.docx"
    path.write_bytes(bombs["docx"])
    with pytest.raises(ChantError):
        small(b"", lambda _: words.read_document(path))


@pytest.mark.parametrize("inside", ["parish/hymns/a.txt", "records/singer.jsonl"])
def test_a_backup_that_unfolds_without_end_is_refused(inside: str, tmp_path: Path) -> None:
    path = tmp_path / "b.zip"
    path.write_bytes(bomb([inside], 500_000_000))
    with zipfile.ZipFile(path, "a") as zipped:
        zipped.writestr("backup.txt", "chantwright backup 1\n")
    store = open_store(f"sqlite:///{tmp_path / 'r.sqlite'}")
    with pytest.raises(ChantError, match="unfolds"):
        small(b"", lambda _: restore(store, tmp_path / "new", path))
    store.close()
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    "name",
    ["../../evil.txt", "/tmp/evil.txt", "a/../../../evil.txt", "..\\evil.txt", "C:/evil.txt",
     "hymns/../../evil.txt", "./../evil.txt"],
)  # fmt: skip
def test_no_name_in_a_backup_leads_out_of_the_folder(name: str, tmp_path: Path) -> None:
    parish = copy_demo(tmp_path / "parish")
    store = open_store(f"sqlite:///{parish / 'records.sqlite'}")
    back_up(store, parish, tmp_path / "b.zip")
    store.close()
    with zipfile.ZipFile(tmp_path / "b.zip", "a") as zipped:
        zipped.writestr(f"parish/{name}", "evil")
    new = tmp_path / "deep" / "down" / "new"
    new.mkdir(parents=True)
    store = open_store(f"sqlite:///{new / 'records.sqlite'}")
    with pytest.raises(ChantError, match="not safe"):
        restore(store, new, tmp_path / "b.zip")
    store.close()
    assert {p.name for p in new.iterdir()} <= {"records.sqlite", "records.sqlite-wal",
                                               "records.sqlite-shm"}  # fmt: skip
    assert not list(tmp_path.rglob("evil*"))


def test_a_link_in_a_backup_becomes_no_link(tmp_path: Path) -> None:
    path = tmp_path / "b.zip"
    with zipfile.ZipFile(path, "w") as zipped:
        zipped.writestr("backup.txt", "chantwright backup 1\n")
        row = zipfile.ZipInfo("parish/hymns")
        row.external_attr = 0o120777 << 16
        zipped.writestr(row, str(tmp_path))
    store = open_store(f"sqlite:///{tmp_path / 'r.sqlite'}")
    (tmp_path / "new").mkdir()
    restore(store, tmp_path / "new", path)
    store.close()
    assert not (tmp_path / "new" / "hymns").is_symlink()


def test_a_page_of_a_pdf_that_unfolds_without_end(tmp_path: Path) -> None:
    writer = pypdf.PdfWriter()
    page = writer.add_blank_page(200, 200)
    content = DecodedStreamObject()
    content.set_data(b" " * 100_000_000)
    page[NameObject("/Contents")] = writer._add_object(content.flate_encode())
    writer.write(tmp_path / "a.pdf")
    assert (tmp_path / "a.pdf").stat().st_size < 1_000_000
    with pytest.raises(ChantError):
        small(b"", lambda _: words.read_document(tmp_path / "a.pdf"))


# --- scripts in pictures and pages ----------------------------------------------------------------

SCRIPT = "<script>alert(1)</script>"
RAW = f'title: {SCRIPT}\ntone: 4\nwords from: "onload="x{SCRIPT}\n\n{{{SCRIPT}}} O Lord, hear me.\n'


@pytest.fixture(scope="module")
def scripted() -> Hymn:
    known = load_knowledge()
    men = group_singers(known.tones, "men")
    hymn = make_singable(hymnfile.loads(RAW), known, men).hymn
    text = hymnfile.dumps(hymn).replace("hear", "<script>x()</script>", 1)
    try:
        return hymnfile.loads(text)
    except ChantError:
        return hymn


def test_no_picture_holds_a_script(scripted: Hymn) -> None:
    tones = load_knowledge().tones
    drawn = [line.svg for line in lines(scripted, tones)]
    for reading in READINGS:
        drawn += [s.svg for b in blocks(scripted, tones, (reading,)) for _, s in b.systems]
    assert len(drawn) > 4
    for svg in drawn:
        for element in ET.fromstring(svg).iter():
            name = str(element.tag).rpartition("}")[2].lower()
            assert name not in ("script", "foreignobject", "iframe", "image", "use_", "handler")
            assert not [a for a in element.attrib if a.lower().startswith("on")]
            for key, at in element.attrib.items():
                if key.endswith("href"):
                    assert at.startswith("#"), at


def test_files_for_others_hold_words_as_words(scripted: Hymn) -> None:
    tones = load_knowledge().tones
    for text in (to_musicxml(scripted, tones), to_mei(scripted, tones)):
        names = {str(e.tag).rpartition("}")[2] for e in ET.fromstring(text).iter()}
        assert "script" not in names


def test_print_holds_no_action_and_no_script(scripted: Hymn) -> None:
    tones = load_knowledge().tones
    booklet = Booklet(
        title=SCRIPT + '#eval("1+1")', parish='#import "x.typ"',
        entries=(Entry("hymn", SCRIPT + '#read("/etc/passwd")', scripted),),
    )  # fmt: skip
    data = booklet_pdf(booklet, tones)
    text = "".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(data)).pages)
    assert "root:" not in text
    assert "#read" in text.replace("\u200b", "")  # printed as it was written
    for sign in (b"/JavaScript", b"/JS ", b"/Launch", b"/OpenAction"):
        assert sign not in data


def test_readings_of_print_are_all_looked_at() -> None:
    assert set(SHOWN) == set(READINGS)


# --- patterns that take for ever ------------------------------------------------------------------


def modules() -> list[ModuleType]:
    found = []
    for info in pkgutil.walk_packages(chantwright.__path__, "chantwright."):
        if ".changes" not in info.name and not info.name.endswith("__main__"):
            found.append(importlib.import_module(info.name))
    return found


def patterns() -> dict[str, re.Pattern[str]]:
    """Every compiled pattern of ours, also those in tuples and mappings, by its text."""
    out: dict[str, re.Pattern[str]] = {}

    def take(name: str, value: object, depth: int = 0) -> None:
        if isinstance(value, re.Pattern) and isinstance(value.pattern, str):
            out.setdefault(value.pattern, value)
        elif isinstance(value, (list, tuple)) and depth < 3:
            for one in value:
                take(name, one, depth + 1)
        elif isinstance(value, dict) and depth < 3 and not name.startswith("__"):
            for one in value.values():
                take(name, one, depth + 1)

    for module in modules():
        for name, value in vars(module).items():
            take(name, value)
    for tree in trees().values():
        for node in ast.walk(tree):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
                continue
            first = node.args[0] if node.args else None
            if node.func.attr in CALLS and isinstance(first, ast.Constant):
                text = first.value
                if isinstance(text, str) and (re.escape(text) != text):
                    with contextlib.suppress(re.error):
                        out.setdefault(text, re.compile(text))
    return out


CALLS = ("sub", "subn", "search", "match", "fullmatch", "finditer", "findall", "compile", "split")
LENGTH = 2_000


def hard(pattern: str) -> list[str]:
    """Long strings that make a careless pattern go back and forth."""
    letters = dict.fromkeys([*re.sub(r"\\[dwsbDWSB]", "", pattern), *"a 1.-·\n\t{[(|“’:x"])
    pieces = [c for c in letters if c not in "\\^$"][:40]
    out = [c * LENGTH + end for c in pieces for end in ("", "\0")]
    pairs = ("a ", " a", "a-", "1,", "{a", "a·", ". ", "\n ", "a\n", "((", "ab", "1 a", "a'", "—a")
    return [*out, *(p * (LENGTH // len(p)) + end for p in pairs for end in ("", "\0"))]


class SlowError(BaseException):
    """A pattern did not come back."""


def test_no_pattern_takes_for_ever_on_a_long_text() -> None:
    found = patterns()
    assert len(found) > 60

    def stop(_signal: int, _frame: FrameType | None) -> None:
        raise SlowError

    slow: dict[str, str] = {}
    before = signal.signal(signal.SIGPROF, stop)
    try:
        for text, pattern in found.items():
            for given in hard(text):
                # Quadratic over a line of two thousand letters is some hundredths of a second, and
                # allowed; what is cubic or worse takes minutes or never ends. Whole texts, which
                # are longer, are the business of the wild input in `test_abuse_fuzz`.
                signal.setitimer(signal.ITIMER_PROF, 2.0)
                try:
                    for _ in pattern.finditer(given):
                        pass
                    pattern.fullmatch(given)
                except SlowError:
                    slow[text] = given[:12]
                    break
                finally:
                    signal.setitimer(signal.ITIMER_PROF, 0)
    finally:
        signal.signal(signal.SIGPROF, before)
    assert not slow


# --- our own code ---------------------------------------------------------------------------------

FORBIDDEN = {"eval", "exec", "compile_command", "__import__"}
UNSAFE = {"pickle", "marshal", "shelve", "dill", "cloudpickle", "yaml", "telnetlib", "xmlrpc"}


@cache
def trees() -> dict[str, ast.Module]:
    root = Path(str(resources.files("chantwright")))
    return {
        str(p.relative_to(root)): ast.parse(p.read_text(encoding="utf-8"))
        for p in root.rglob("*.py")
    }


def test_nothing_from_a_file_is_run() -> None:
    for name, tree in trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                assert not {a.name.split(".")[0] for a in node.names} & UNSAFE, name
            elif isinstance(node, ast.ImportFrom):
                assert (node.module or "").split(".")[0] not in UNSAFE, name
            elif isinstance(node, ast.Call):
                called = node.func.id if isinstance(node.func, ast.Name) else ""
                assert called not in FORBIDDEN, (name, node.lineno)
                given = {k.arg: k.value for k in node.keywords}
                shell = given.get("shell")
                assert shell is None or getattr(shell, "value", True) is False, name
                attribute = node.func.attr if isinstance(node.func, ast.Attribute) else ""
                if attribute == "load" and getattr(node.func.value, "id", "") == "np":  # type: ignore[attr-defined]
                    assert getattr(given.get("allow_pickle"), "value", True) is False, name
                assert attribute not in ("mktemp", "system", "popen"), (name, node.lineno)


def test_no_table_for_a_spreadsheet_is_written() -> None:
    # A cell that begins with = + - @ is a formula to a spreadsheet (OWASP, "CSV injection"). We
    # write none; whoever adds one has to say here how its cells are made safe.
    for name, tree in trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                writes = node.value.id == "csv" and "riter" in node.attr
                assert not writes, (name, node.lineno)
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                assert "text/csv" not in node.value, (name, node.lineno)
