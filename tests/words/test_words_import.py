"""Words out of files: text, Markdown, .docx, PDF; and files that are none of these.

The files are made here by programs of others (python-docx, typst, pypdf), with words of the King
James psalter or our own.
"""

from __future__ import annotations

import io
import json
import random
import struct
import zipfile
import zlib
from pathlib import Path

import docx
import pypdf
import pytest
import typst
from click.testing import CliRunner
from docx.enum.text import WD_BREAK
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.shared import Pt, RGBColor
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.cli import main
from chantwright.errors import ChantError
from chantwright.words import document, read_document, read_words
from chantwright.words.document import Document

RED = RGBColor(0xC0, 0x10, 0x10)


def kinds(found: Document) -> set[str]:
    return {c.kind for c in found.changes}


def sung(found: Document) -> str:
    return " ".join(w.text for w in read_words(found.text).words)


# ------------------------------------------------------------------ plain text
def test_utf8_text_comes_back_letter_by_letter(tmp_path: Path) -> None:
    text = "Lórd, I crý | unto thee:\n\n{softly} al·le·lu·i·a\n"
    (tmp_path / "a.txt").write_text(text, encoding="utf-8")
    assert read_document(tmp_path / "a.txt") == Document(text)
    (tmp_path / "b.txt").write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert read_document(tmp_path / "b.txt").text == text
    (tmp_path / "c.txt").write_bytes(text.encode("utf-16"))
    assert read_document(tmp_path / "c.txt").text == text


@pytest.mark.parametrize(
    ("text", "page", "kind", "column"),
    [
        ("Praise him\nthe Lord’s mercy – incénse", "cp1252", "western", 9),
        ("Κύριε ελέησον", "cp1253", "Greek", 1),
    ],
)
def test_old_encodings_are_guessed_and_told(
    tmp_path: Path, text: str, page: str, kind: str, column: int
) -> None:
    (tmp_path / "a.txt").write_bytes(text.encode(page))
    found = read_document(tmp_path / "a.txt")
    assert found.text == text
    (change,) = found.changes
    assert kind in change.kind
    assert (change.line, change.column) == (text.count("\n") + 1, column)


# ------------------------------------------------------------------ Markdown
def test_markdown(tmp_path: Path) -> None:
    raw = (
        "# Lord, I cry\n\n*Slowly, the left choir*\n\n> Lord, **I cry** unto thee,  \n> hear me."
        "\n\n- Let my _prayer_ be set forth | as incense\n\n***\n<!-- check -->\nBless * the Lord\n"
    )
    (tmp_path / "a.md").write_text(raw, encoding="utf-8")
    found = read_document(tmp_path / "a.md")
    assert found.text.split("\n") == [
        "{Lord, I cry}",
        "",
        "{Slowly, the left choir}",
        "",
        "Lord, I cry unto thee, |",
        "hear me.",
        "",
        "Let my prayer be set forth | as incense",
        "",
        "",
        "",
        "Bless * the Lord",
        "",
    ]
    assert kinds(found) == {
        "heading", "line in italics", "quotation sign", "emphasis", "line break", "list sign",
        "ruled line", "comment",
    }  # fmt: skip
    assert all(1 <= c.line <= 11 for c in found.changes)


@settings(deadline=None, max_examples=150)
@given(st.text(st.sampled_from("abc *_#>-`[]()!<>\\|{}\n"), max_size=80))
def test_any_markdown_gives_text(raw: str) -> None:
    from chantwright.words.textfile import read_markdown  # noqa: PLC0415

    found = read_markdown(raw)
    # no letter that may be sung is lost, but those of comments, tags and addresses of links
    if not set(raw) & set("<[!`"):
        kept = [c for c in raw if c.isalpha()]
        assert [c for c in found.text if c.isalpha()] == kept


# ------------------------------------------------------------------ Word files
def save(made: object, path: Path) -> Path:
    made.save(str(path))  # type: ignore[attr-defined]
    return path


def test_word_file(tmp_path: Path) -> None:
    made = docx.Document()
    made.add_heading("Vespers", 1)
    first = made.add_paragraph()
    first.add_run("Verse: ").font.color.rgb = RED
    first.add_run("L").font.color.rgb = RED  # a red initial is sung
    first.add_run("ord, I cry unto thee: make haste unto me;")
    first.add_run().add_break(WD_BREAK.LINE)
    first.add_run("give ear unto my voice")
    made.add_paragraph()
    second = made.add_paragraph()
    figure = second.add_run("2")
    figure.font.superscript = True
    second.add_run("Set a watch, ")
    gone = second.add_run("(not this) ")
    gone.font.hidden = True
    second.add_run("O Lord.")
    made.sections[0].header.paragraphs[0].text = "Parish book"
    found = read_document(save(made, tmp_path / "a.docx"))
    assert found.text.split("\n") == [
        "{Vespers}",
        "{Verse:} Lord, I cry unto thee: make haste unto me;",
        "give ear unto my voice",
        "",
        "²Set a watch, O Lord.",
    ]
    assert kinds(found) == {"heading", "red words", "red letter", "hidden text", "page head"}
    text = read_words(found.text)
    assert [w.text for w in text.words if w.verse_start] == ["Lord", "Set"]
    assert text.words[0].rubric == "Vespers\nVerse:"


def test_red_by_style_and_tracked_changes(tmp_path: Path) -> None:
    made = docx.Document()
    style = made.styles.add_style("Rubric", 2)
    style.font.color.rgb = RED
    child = made.styles.add_style("Small rubric", 2)
    child.base_style = style
    line = made.add_paragraph()
    line.add_run("The deacon: ", style="Small rubric")
    line.add_run("Let us pray")
    for name, words in (("w:ins", " to the Lord"), ("w:del", " always")):
        mark = OxmlElement(name)
        run = line.add_run(words)
        mark.append(run._r)
        line._p.append(mark)
    found = read_document(save(made, tmp_path / "a.docx"))
    assert found.text == "{The deacon:} Let us pray to the Lord"


def test_paragraphs_as_verses_or_as_lines(tmp_path: Path) -> None:
    short, long = docx.Document(), docx.Document()
    for line in ("Praise the Lord,", "O my soul,", "while I live"):
        short.add_paragraph(line)
    assert "\n\n" not in read_document(save(short, tmp_path / "a.docx")).text
    for _ in range(3):
        long.add_paragraph("Let my prayer be set forth before thee as incense; and the lifting up "
                           "of my hands as the evening sacrifice.")  # fmt: skip
    assert read_document(save(long, tmp_path / "b.docx")).text.count("\n\n") == 2
    spaced = docx.Document()
    for line in ("Praise the Lord,", "O my soul,"):
        spaced.add_paragraph(line).paragraph_format.space_after = Pt(12)
    assert read_document(save(spaced, tmp_path / "c.docx")).text.count("\n\n") == 1


def test_tables_are_read_and_text_boxes_told(tmp_path: Path) -> None:
    made = docx.Document()
    cells = made.add_table(1, 2).rows[0].cells
    cells[0].text, cells[1].text = "Praise the Lord", "O my soul"
    run = made.add_paragraph("Amen.").add_run()
    box, inner = OxmlElement("w:txbxContent"), OxmlElement("w:p")
    letters = OxmlElement("w:r")
    text = OxmlElement("w:t")
    text.text = "boxed"
    letters.append(text)
    inner.append(letters)
    box.append(inner)
    run._r.append(box)
    found = read_document(save(made, tmp_path / "a.docx"))
    assert found.text.split("\n") == ["Praise the Lord", "O my soul", "Amen."]
    assert "text boxes" in kinds(found)
    assert qn("w:p") == inner.tag


def test_a_file_all_in_red_is_sung(tmp_path: Path) -> None:
    made = docx.Document()
    made.add_paragraph().add_run("Praise the Lord, O my soul").font.color.rgb = RED
    found = read_document(save(made, tmp_path / "a.docx"))
    assert found.text == "Praise the Lord, O my soul"
    assert kinds(found) == {"red words"}


# ------------------------------------------------------------------ PDF
PAGE = """
#set page(width: 12cm, height: 9cm, header: [Our book], footer: context counter(page).display())
#text(fill: red)[Verse:] Lord, I cry unto thee: make haste unto me; give ear unto my voice, when I
cry unto thee. #text(fill: rgb("#b01020"))[L]et my prayer be set forth before thee as incense.

Set a watch, O Lord, before my mouth; keep the door of my lips. The ﬁrst ﬂood.
#pagebreak()
Praise ye the Lord.
"""


def pdf(tmp_path: Path, source: str = PAGE) -> bytes:
    own = tmp_path / "a.typ"
    own.write_text(source, encoding="utf-8")
    return bytes(typst.compile(str(own)))


def read(tmp_path: Path, data: bytes, name: str = "a.pdf") -> Document:
    (tmp_path / name).write_bytes(data)
    return read_document(tmp_path / name)


def test_pdf(tmp_path: Path) -> None:
    found = read(tmp_path, pdf(tmp_path))
    assert found.text.startswith("{Verse:} Lord, I cry unto thee:")
    assert found.text.count("\n\n") == 1  # the room between two verses, not the page's end
    assert kinds(found) == {"red words", "red letter", "page head", "page foot"}
    assert sung(found).startswith("Lord I cry unto thee make haste unto me give ear unto my voice")
    assert sung(found).endswith("The first flood Praise ye the Lord")
    heads = [c.before for c in found.changes if c.kind in ("page head", "page foot")]
    assert sorted(heads) == ["1", "2", "Our book", "Our book"]


def test_words_broken_at_the_end_of_a_line(tmp_path: Path) -> None:
    source = (
        "#set page(width: 6cm)\n#set par(justify: true)\n#set text(hyphenate: true, lang: 'en')\n"
    )
    words = "The heavens declare the glory of God and the firmament sheweth his righteousness. " * 3
    found = read(tmp_path, pdf(tmp_path, source.replace("'", '"') + words))
    assert "-\n" in found.text
    assert sung(found) == " ".join([words.split(".", maxsplit=1)[0]] * 3).strip()


def test_greek_pdf(tmp_path: Path) -> None:
    found = read(tmp_path, pdf(tmp_path, "Κύριε ἐκέκραξα πρὸς σέ, εἰσάκουσόν μου."))
    text = read_words(found.text, language="el")
    assert [w.text for w in text.words][:3] == ["Κύριε", "ἐκέκραξα", "πρὸς"]


# ------------------------------------------------------------------ what cannot be read
def locked(data: bytes) -> bytes:
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(data))
    writer.encrypt("secret", algorithm="RC4-128")
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def picture() -> bytes:
    """Make a grey PNG of 8 by 8."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = struct.pack(">IIBBBBB", 8, 8, 8, 0, 0, 0, 0)
    rows = zlib.compress((b"\0" + b"\x80" * 8) * 8)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def packed(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, body in parts.items():
            package.writestr(name, body)
    return out.getvalue()


def changed(made: bytes, name: str, old: bytes, new: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(made)) as package:
        parts = {n: package.read(n) for n in package.namelist()}
    assert old in parts[name]
    return packed({**parts, name: parts[name].replace(old, new, 1)})


def word_file(words: str = "Amen.") -> bytes:
    out = io.BytesIO()
    made = docx.Document()
    made.add_paragraph(words)
    made.save(out)
    return out.getvalue()


ENTITIES = (
    b"<!DOCTYPE w [<!ENTITY a 'ha'>" + b"".join(
        b"<!ENTITY %c '&%c;&%c;&%c;'>" % (98 + k, 97 + k, 97 + k, 97 + k) for k in range(9)
    ) + b"]>"
)  # fmt: skip


def hostile() -> list[tuple[str, bytes, str]]:
    bomb = packed({"word/document.xml": b"<w>" + b" " * 30_000_000 + b"</w>"})
    many = packed({"word/document.xml": b"<w/>", **{f"x{k}": b"" for k in range(4100)}})
    entities = changed(word_file(), "word/document.xml", b"<w:document", ENTITIES + b"<w:document")
    return [
        ("a packed part of 30 million blanks", bomb, "far larger unpacked"),
        ("four thousand parts", many, "far larger unpacked"),
        ("entities within entities", entities, "definitions"),
        ("half a Word file", word_file()[:2000], "is broken"),
        ("a Word file of broken XML",
         changed(word_file(), "word/document.xml", b"<w:body>", b"<w:bod>"), "is broken"),
        ("another packed file", packed({"a.txt": b"Amen"}), "not a Word file"),
        ("an empty Word file", word_file(""), "no words in this file"),
        ("an old Word file", b"\xd0\xcf\x11\xe0" + bytes(600), "old Word file"),
        ("rich text", b"{\\rtf1 Amen}", "rich text"),
        ("a picture", picture(), "a picture"),
        ("zeros", bytes(500), "not a text file"),
        ("noise", bytes(range(256)) * 4, "not a text file"),
        ("half a PDF", b"%PDF-1.7\n1 0 obj << /Type", "broken"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("data", "said"), [h[1:] for h in hostile()], ids=[h[0] for h in hostile()]
)
def test_what_cannot_be_read_ends_in_a_sentence(tmp_path: Path, data: bytes, said: str) -> None:
    with pytest.raises(ChantError, match=said) as caught:
        read(tmp_path, data, "vespers.docx")
    assert "vespers.docx" in str(caught.value)
    assert caught.value.remedy


def test_a_locked_pdf(tmp_path: Path) -> None:
    with pytest.raises(ChantError, match="locked with a password"):
        read(tmp_path, locked(pdf(tmp_path)))


def test_a_scan(tmp_path: Path) -> None:
    (tmp_path / "page.png").write_bytes(picture())
    with pytest.raises(ChantError, match="only pictures"):
        read(tmp_path, pdf(tmp_path, '#image("page.png", width: 8cm)'))


def test_a_size_that_is_a_lie(tmp_path: Path) -> None:
    # the package says that its part has 10 bytes, and unpacks to 200 000
    honest = packed({"word/document.xml": b"<w:document>" + b" " * 200_000})
    size = struct.pack("<I", 200_012)
    lying = honest.replace(size, struct.pack("<I", 10))
    assert lying != honest
    with pytest.raises(ChantError, match="broken"):
        read(tmp_path, lying, "a.docx")


def test_a_file_too_large(tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    with path.open("wb") as out:
        out.truncate(document.LARGEST + 1)
    with pytest.raises(ChantError, match="too large"):
        read_document(path)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(ChantError, match="cannot be opened"):
        read_document(tmp_path / "none.txt")


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 10**6), st.sampled_from(["a.docx", "a.pdf"]))
def test_spoiled_files_never_end_in_a_traceback(
    tmp_path_factory: pytest.TempPathFactory, seed: int, name: str
) -> None:
    folder = tmp_path_factory.getbasetemp()
    chance = random.Random(seed)
    spoiled = bytearray(word_file() if name == "a.docx" else _pdf_once(folder))
    for _ in range(chance.randint(1, 6)):
        spoiled[chance.randrange(8, len(spoiled))] = chance.randrange(256)
    if chance.random() < 0.3:
        spoiled = spoiled[: chance.randrange(8, len(spoiled))]
    (folder / name).write_bytes(bytes(spoiled))
    try:
        found = read_document(folder / name)
    except ChantError as exc:
        assert exc.remedy
        return
    assert isinstance(found.text, str)


def _pdf_once(folder: Path) -> bytes:
    kept = folder / "once.pdf"
    if not kept.exists():
        kept.write_bytes(pdf(folder))
    return kept.read_bytes()


# ------------------------------------------------------------------ the verbs
def test_the_verbs_take_documents(tmp_path: Path) -> None:
    made = docx.Document()
    made.add_paragraph().add_run("The choir: ").font.color.rgb = RED
    made.paragraphs[0].add_run("Lord, have mercy.")
    path = save(made, tmp_path / "mercy.docx")
    shown = CliRunner().invoke(main, ["words", str(path)])
    assert shown.exit_code == 0, shown.output
    assert "ˈLord, have ˈmer-cy." in shown.output
    assert "red words: “The choir:”" in shown.output
    told = json.loads(CliRunner().invoke(main, ["words", str(path), "--json"]).stdout)
    assert "red words" in {c["kind"] for c in told["changes"]}
    out = tmp_path / "mercy.txt"
    done = CliRunner().invoke(main, ["set", str(path), "--tone", "1", "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert "red words" in done.stderr
    assert "Lord," in out.read_text(encoding="utf-8")
    (tmp_path / "scan.pdf").write_bytes(b"%PDF-1.4 nothing")
    wrong = CliRunner().invoke(main, ["words", str(tmp_path / "scan.pdf")])
    assert wrong.exit_code == 1
    assert "broken" in wrong.output
