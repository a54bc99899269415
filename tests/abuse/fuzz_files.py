"""Abuse by files: each kind is damaged and read as the tool reads it, and used where it was read.

A kind is a function of the ground and of a source of chance. It ends well (the damage did no harm),
or raises `ChantError` (it was refused in a sentence); anything else is a defect.
"""

from __future__ import annotations

import random
import zlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from fuzz_damage import NASTY, of_bytes, of_file, of_text, of_zip, value, written
from fuzz_ground import DAY, Ground, data_files, tables_of, whole

from chantwright import almanac, words
from chantwright.ear.recording import read_recording
from chantwright.ear.sentences import load_speech
from chantwright.engrave import lines, to_mei, to_musicxml
from chantwright.engrave.neumes.tables import load_tables
from chantwright.errors import ChantError
from chantwright.parish import (
    gather,
    load_knowledge,
    open_folder,
    read_plan,
    read_singers,
    singers_of,
)
from chantwright.parish.hardness import hardness, load_weights
from chantwright.parish.plan import decided, write_plan
from chantwright.parish.practice import grade, load_rules
from chantwright.parish.records import Result, open_store
from chantwright.parish.records import restore as put_back
from chantwright.score import hymnfile
from chantwright.score.melody import to_hymn
from chantwright.score.midi import read_midi
from chantwright.score.musicxml import read_musicxml
from chantwright.setting import check_books
from chantwright.setting.taste import read_taste, write_taste
from chantwright.tones import check as check_tones
from chantwright.tuning import load_kbm, load_scl
from chantwright.tuning.colouring import load_accidentals, load_colourings
from chantwright.voice.sounds import load_spelling
from chantwright.web.handin import read_handins, write_handin

Kind = Callable[[Ground, random.Random], object]


def _one(ground: Ground, name: str, data: bytes) -> Path:
    path = ground.scratch / name
    path.write_bytes(data)
    return path


def _as_words(ground: Ground, path: Path, draw: random.Random) -> None:
    document = words.read_document(path)
    hymn = hymnfile.loads(document.text, file=str(path))
    if draw.random() < 0.7:
        text = words.read_words(document.text, file=str(path))
        words.to_phrases(text)
    if draw.random() < 0.1 and len(document.text) < 3000:
        ground.sung(hymn)


def text_files(ground: Ground, draw: random.Random) -> None:
    """``.txt`` and ``.md``."""
    data = of_file(draw.choice(whole()["words"]), draw, whole()["words"])
    _as_words(ground, _one(ground, draw.choice(("a.txt", "a.md")), data), draw)


def word_files(ground: Ground, draw: random.Random) -> None:
    """``.docx``."""
    _as_words(ground, _one(ground, "a.docx", of_zip(whole()["docx"][0], draw)), draw)


def pdf_files(ground: Ground, draw: random.Random) -> None:
    """``.pdf``."""
    _as_words(ground, _one(ground, "a.pdf", of_bytes(whole()["pdf"][0], draw)), draw)


def hymn_files(ground: Ground, draw: random.Random) -> None:
    """Hymn files: read, written again, set, drawn, handed out."""
    data = of_file(draw.choice(whole()["hymn"]), draw, whole()["hymn"])
    hymn = hymnfile.read(_one(ground, "a.txt", data))
    assert hymnfile.loads(hymnfile.dumps(hymn)) == hymn, "another hymn after writing and reading"
    if draw.random() < 0.15 and len(data) < 4000:
        ready = ground.sung(hymn)
        tones = ground.known.tones
        draw.choice((lines, to_mei, to_musicxml))(ready, tones)


def parish_files(ground: Ground, draw: random.Random) -> None:
    """``parish.toml``, ``singers.toml``, plans: read and used in the parish they belong to."""
    name, kind = draw.choice(
        (("parish.toml", "parish"), ("singers.toml", "singers"), ("services", "plan"))
    )
    old = draw.choice(whole()[kind])
    data = of_file(old, draw, whole()[kind])
    if kind != "plan" and draw.random() < 0.5:
        data = _other_values(old.decode(), draw).encode("utf-8", "replace")
    if kind == "plan":
        path = _one(ground, "2026-11-28-great-vespers.txt", data)
        plan = read_plan(path)
        days = almanac.week(DAY)
        decided(next((d for d in days if d.service == plan.service), days[0]), plan)
        write_plan(ground.scratch / "again.txt", plan)
        read_plan(ground.scratch / "again.txt")
        return
    path = _one(ground, name, data)
    if kind == "singers":
        read_singers(path)
        return
    folder = open_folder(ground.scratch)
    almanac.week(DAY, calendar=folder.calendar, practice=folder.practice)
    if draw.random() < 0.05:
        known = ground.known
        gather(folder, DAY, known, singers_of(folder, known.tones), lambda *_: None)


def _other_values(text: str, draw: random.Random) -> str:
    lines_ = text.split("\n")
    at = [i for i, line in enumerate(lines_) if "=" in line and not line.startswith("#")]
    for i in draw.sample(at, k=min(len(at), draw.choice((1, 1, 2, 4)))):
        lines_[i] = f"{lines_[i].split('=')[0]}= {written(value('x', draw))}"
    return "\n".join(lines_)


def own_rows(ground: Ground, draw: random.Random) -> None:
    """A parish's own rows of every data file of ours, with other values, or damaged as text."""
    package, name, text = draw.choice(data_files())
    if draw.random() < 0.75:
        text = _rows_of(text, draw)
    else:
        start = draw.randrange(len(text))
        text = of_text(text[start : start + draw.choice((300, 3000))], draw)
    if draw.random() < 0.1:
        text = of_text(text, draw)
    use_rows(ground, package, _one(ground, name, text.encode("utf-8", "replace")), draw)


def _rows_of(text: str, draw: random.Random) -> str:
    tables = tables_of(text)
    out = []
    for _ in range(draw.choice((1, 1, 2, 3))):
        table = draw.choice(sorted(tables))
        row = dict(draw.choice(tables[table]))
        for _ in range(draw.choice((1, 1, 2, 3))):
            key = draw.choice(sorted(row) or ["id"])
            match draw.randrange(8):
                case 0:
                    row.pop(key, None)
                case 1:
                    row[draw.choice(("odd", "id", "src", "conf"))] = value("x", draw)
                case _ if key != "id" or draw.random() < 0.3:
                    row[key] = value(row.get(key, ""), draw)
        lines_ = [f"[[{table}]]"]
        for key, given in row.items():
            bare = key.replace("_", "").replace("-", "").isalnum() and key.isascii()
            lines_.append(f"{key if bare else written(key)} = {written(given)}")
        out.append("\n".join(lines_))
    return "\n\n".join(out) + "\n"


def use_rows(ground: Ground, package: str, path: Path, draw: random.Random) -> None:
    """Read rows of a parish as their package does, and use them."""
    own = (path,)
    if package == "almanac":
        almanac.check(own)
        for day in almanac.week(DAY, overrides=own):
            almanac.items(day, own)
            almanac.points_text(day, own)
        almanac.parish_services(DAY, overrides=own)
        return
    if package == "words":
        words.read_words("O Lord, I have cried unto thee, hear thou me.", overrides=own)
        return
    if package == "voice":
        load_spelling(own)
        return
    if package == "ear":
        load_speech(own)
        return
    if package == "engrave.neumes":
        load_tables(own)
        return
    if package == "parish":
        rules = load_rules(own)
        grade(Result("a.txt", 10, 1, 0, 2.0), rules)
        hymn = ground.keep("a hymn", lambda: hymnfile.loads(whole()["hymn"][-1].decode()))
        hardness(hymn, load_weights(own))
        return
    for load in (load_accidentals, load_colourings):
        with suppress(ChantError):
            load(own)
    # The check command must speak where the others refuse.
    found = [*check_tones(own), *check_books(own)] if draw.random() < 0.3 else []
    assert all(str(f.sentence) for f in found)
    known = load_knowledge(own)
    hymn = hymnfile.loads("title: A\n\nO Lord, I have cried unto thee, hear thou me.\n")
    tone = int(name[-1]) if (name := path.stem)[-1].isdigit() else draw.randrange(1, 9)
    ground.sung(hymn, known, tone)


def prices(ground: Ground, draw: random.Random) -> None:
    """The file of what the teacher's choices taught."""
    path = _one(ground, "prices.toml", of_file(whole()["prices"][0], draw))
    read_taste(path)
    before = path.read_bytes()
    write_taste(path, {"leap": 1.0})
    assert (path.parent / "prices.toml~").read_bytes() == before, "the version before is not kept"


def scores(ground: Ground, draw: random.Random) -> None:
    """MusicXML, packed and not."""
    if draw.random() < 0.4:
        path = _one(ground, "a.mxl", of_zip(draw.choice(whole()["mxl"]), draw))
    else:
        data = of_file(draw.choice(whole()["musicxml"]), draw, (*whole()["musicxml"],))
        path = _one(ground, draw.choice(("a.musicxml", "a.xml", "a.mxl")), data)
    _taken(ground, read_musicxml(path, part=draw.choice((1, 1, 1, 2))), draw)


def _taken(ground: Ground, melody: object, draw: random.Random) -> None:
    tones = ground.known.tones
    hymn = to_hymn(
        melody,  # type: ignore[arg-type]
        tones,
        tone=draw.choice((None, 1, 4, 8)),
        ni=draw.choice((None, None, "C", "F", "x")),
        file="a",
    )
    hymn = words.accented(hymn, ())
    assert hymnfile.loads(hymnfile.dumps(hymn)), "it cannot be read again"


def midi(ground: Ground, draw: random.Random) -> None:
    """MIDI files."""
    _taken(ground, read_midi(_one(ground, "a.mid", of_bytes(whole()["midi"][0], draw))), draw)


def sounds(ground: Ground, draw: random.Random) -> None:
    """Sound files of four kinds."""
    kind = draw.choice(("wav", "wav", "flac", "mp3", "ogg"))
    data = of_bytes(draw.choice(whole()[kind]), draw)
    found = read_recording(_one(ground, f"a.{kind}", data))
    assert found.samples.size < 3 * 3600 * found.rate + found.rate


def scales(ground: Ground, draw: random.Random) -> None:
    """Scala's scales and keyboards."""
    kind = draw.choice(("scl", "kbm"))
    text = of_text(whole()[kind][0].decode(), draw)
    load_scl(text) if kind == "scl" else load_kbm(text)


def handed_in(ground: Ground, draw: random.Random) -> None:
    """What a singer hands in; sometimes with a check sum that fits the damage."""
    text = of_text(whole()["handin"][0].decode(), draw)
    if draw.random() < 0.6:
        body = [line for line in text.split("\n") if line.strip() and "check:" not in line]
        body = [line.rstrip() for line in body]
        sum_ = zlib.crc32("\n".join(body).encode("utf-8", "surrogatepass"))
        text = "\n".join([*body, f"check: {sum_:08x}"]) + "\n"
    for found in read_handins(text):
        read_handins(write_handin(found))


def backups(ground: Ground, draw: random.Random) -> None:
    """Backups that are put back into a new parish."""
    data = of_zip((ground.parish.parent / "backup.zip").read_bytes(), draw)
    path, folder = _one(ground, "backup.zip", data), ground.scratch / "new"
    folder.mkdir()
    store = open_store(f"sqlite:///{folder / 'records.sqlite'}")
    try:
        put_back(store, folder, path)
    finally:
        store.close()
        names = {p.name for p in ground.scratch.iterdir()}
        assert names == {"backup.zip", "new"}, f"something was written elsewhere: {names}"


def yearbooks(ground: Ground, draw: random.Random) -> None:
    """Yearbooks typed as tables, and calendar files of an earlier export."""
    if draw.random() < 0.6:
        data = of_file(whole()["yearbook"][0], draw)
        found = almanac.compare(_one(ground, "a.csv", data))
        rows = _one(ground, "own.toml", almanac.as_rows(found, "a.csv").encode())
        almanac.week(DAY, overrides=(rows,))
        return
    almanac.to_ical(
        DAY, DAY, former=of_file(whole()["ics"][0], draw), zone=draw.choice(("", "x", NASTY[5]))
    )


FILES: dict[str, tuple[int, Kind]] = {
    "text files": (8, text_files),
    "Word files": (8, word_files),
    "PDF files": (5, pdf_files),
    "hymn files": (12, hymn_files),
    "parish files": (8, parish_files),
    "own rows": (12, own_rows),
    "learnt prices": (2, prices),
    "MusicXML": (8, scores),
    "MIDI": (5, midi),
    "sound files": (6, sounds),
    "scales": (2, scales),
    "handed in": (4, handed_in),
    "backups": (2, backups),
    "yearbooks": (2, yearbooks),
}
"""Name -> share in a hundred, and what does it."""
