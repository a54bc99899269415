"""Where abuse takes place: a parish in a folder of its own, whole files of every kind, and a watch.

The watch holds what a parish owns (hymns, plans, its own rows, settings) against what stood there
before: nothing may be lost, nothing may change unasked, and where a change was asked for, the
version before stands beside it.
"""

from __future__ import annotations

import io
import shutil
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

import docx
import mido
import numpy as np
import numpy.typing as npt
import soundfile
import typst

from chantwright import words
from chantwright.almanac import to_ical
from chantwright.cli.exchange import _packed
from chantwright.engrave import to_mei, to_musicxml
from chantwright.parish import (
    Knowledge,
    copy_demo,
    group_singers,
    load_knowledge,
    make_singable,
)
from chantwright.parish.records import Result, add_person, back_up, open_store
from chantwright.score import Hymn, hymnfile
from chantwright.tuning import dump_kbm, dump_scl, keyboard_for
from chantwright.web.handin import write_handin

DAY = date(2026, 11, 25)

PAGE = """= Psalm 141
Lord, I cry unto thee: make haste unto me; give ear unto my voice, when I cry unto thee.

Let my prayer be set forth before thee as incense; and the lifting up of my hands.

_Then the readers:_ Set a watch, O LORD, before my mouth; keep the door of my lips.

κύριε, ἐκέκραξα πρὸς σέ, εἰσάκουσόν μου.
"""


def _word_file() -> bytes:
    made = docx.Document()
    for line in PAGE.split("\n\n"):
        made.add_paragraph(line)
    made.add_table(2, 2).cell(0, 0).text = "Amen."
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


KEYS = (60, 62, 64, 62, 60, 60)


def _midi() -> bytes:
    made = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    made.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=500_000))
    for text, key in zip(("Lord ", "I ", "cry ", "un-", "to ", "thee."), KEYS, strict=True):
        track.append(mido.MetaMessage("lyrics", text=text))
        track.append(mido.Message("note_on", note=key, velocity=70, time=0))
        track.append(mido.Message("note_off", note=key, velocity=0, time=480))
    out = io.BytesIO()
    made.save(file=out)
    return out.getvalue()


def sung_samples(rate: int, seconds: float = 1.6) -> npt.NDArray[np.float64]:
    """A few notes of a voice without words, shape (n,), between -1 and 1."""
    at = np.arange(int(rate * seconds)) / rate
    steps = 2 ** (np.array([0, 2, 4, 2, 0, 0, 2, 0])[(at * 5).astype(int) % 8] / 12)
    phase = 2 * np.pi * np.cumsum(165.0 * steps) / rate
    return np.asarray(0.2 * np.sum([np.sin(k * phase) / k for k in range(1, 6)], axis=0))


def _sound(kind: str, subtype: str) -> bytes:
    rate, out = 16_000, io.BytesIO()
    wave = sung_samples(rate)
    soundfile.write(out, np.asarray(wave, np.float32), rate, format=kind, subtype=subtype)
    return out.getvalue()


@cache
def whole() -> Mapping[str, tuple[bytes, ...]]:
    """Whole files of every kind, made by our own writers and by libraries of others."""
    demo = resources.files("chantwright.parish") / "data" / "demo"
    known = load_knowledge()
    men = group_singers(known.tones, "men")
    texts = tuple((demo / "hymns" / n).read_bytes() for n in _names(demo / "hymns"))
    sung = [
        make_singable(hymnfile.loads(t.decode()), known, men, tone=i + 1).hymn
        for i, t in enumerate(texts[:3])
    ]
    xml = tuple(to_musicxml(h, known.tones).encode() for h in sung)
    scale = known.tones.scales[known.tones.default_branch(1).scale]
    result = Result("lord-i-cry.txt", 40, 2, 1, 3.5, -1.0, datetime(2026, 11, 25, tzinfo=UTC))
    return {
        "words": (PAGE.encode(), *texts[:6]),
        "docx": (_word_file(),),
        "pdf": (bytes(typst.compile(PAGE.encode())),),
        "hymn": (*texts, *(hymnfile.dumps(h).encode() for h in sung)),
        "plan": tuple((demo / "services" / n).read_bytes() for n in _names(demo / "services")),
        "parish": ((demo / "parish.toml").read_bytes(),),
        "singers": ((demo / "singers.toml").read_bytes(),),
        "musicxml": xml,
        "mxl": tuple(_packed(x.decode()) for x in xml),
        "mei": tuple(to_mei(h, known.tones).encode() for h in sung),
        "midi": (_midi(),),
        "wav": (_sound("WAV", "PCM_16"), _sound("WAV", "FLOAT"), _sound("WAV", "PCM_24")),
        "flac": (_sound("FLAC", "PCM_16"),),
        "mp3": (_sound("MP3", "MPEG_LAYER_III"),),
        "ogg": (_sound("OGG", "VORBIS"), _sound("OGG", "OPUS")),
        "scl": (dump_scl(scale).encode(),),
        "kbm": (dump_kbm(keyboard_for(scale, base_degree=0, base_hz=130.8)).encode(),),
        "handin": (write_handin(result).encode(),),
        "ics": (to_ical(DAY, date(2026, 12, 20), now=datetime(2026, 11, 25, tzinfo=UTC)),),
        "yearbook": (b"date,tone,eothinon,saint,rank\n2026-11-29,8,3,,\n2026-12-06,1,4,x,great\n",),
        "prices": (b'[[weight]]\nid = "leap"\nvalue = 2.0\nsrc = ["3 choices"]\nconf = "low"\n',),
    }


def _names(folder: Any) -> list[str]:
    return sorted(f.name for f in folder.iterdir() if f.name.endswith(".txt"))


PACKAGES = ("tuning", "tones", "almanac", "words", "setting", "engrave", "engrave.neumes",
            "voice", "ear", "parish")  # fmt: skip


@cache
def data_files() -> tuple[tuple[str, str, str], ...]:
    """Every data file of ours: its package, its name, its text."""
    out = []
    for package in PACKAGES:
        folder = resources.files(f"chantwright.{package}") / "data"
        for file in sorted(folder.iterdir(), key=lambda f: f.name):
            if file.name.endswith(".toml"):
                out.append((package, file.name, file.read_text(encoding="utf-8")))
    return tuple(out)


@cache
def tables_of(text: str) -> Mapping[str, list[dict[str, Any]]]:
    """Arrays of tables in a data file."""
    return {
        k: v
        for k, v in tomllib.loads(text).items()
        if isinstance(v, list) and v and all(isinstance(r, dict) for r in v)
    }


OWNED = ("hymns", "services", "own", "parish.toml", "singers.toml")


@dataclass(slots=True)
class Ground:
    """A parish, a scratch folder that is fresh for each case, and what must be closed at the end.

    Attributes
    ----------
    parish : Path
        Folder of a whole parish.
    scratch : Path
        Where a case may write.
    kept : dict
        What cases of one kind keep open (a desk, a browser), by name.
    """

    parish: Path
    scratch: Path
    kept: dict[str, Any] = field(default_factory=dict)
    at_end: list[Callable[[], None]] = field(default_factory=list)

    def keep(self, name: str, make: Callable[[], Any]) -> Any:
        """Return what is kept under a name, made the first time."""
        if name not in self.kept:
            self.kept[name] = make()
        return self.kept[name]

    @property
    def known(self) -> Knowledge:
        """Tones and formula books."""
        return self.keep("known", load_knowledge)  # type: ignore[no-any-return]

    def sung(self, hymn: Hymn, known: Knowledge | None = None, tone: int = 4) -> Hymn:
        """Set a hymn and pitch it for men."""
        known = known or self.known
        men = self.keep("men", lambda: group_singers(self.known.tones, "men"))
        return make_singable(hymn, known, men, tone=tone).hymn

    def fresh(self) -> None:
        """Empty the scratch folder."""
        shutil.rmtree(self.scratch, ignore_errors=True)
        self.scratch.mkdir()

    def owned(self) -> dict[str, bytes]:
        """What the parish owns: name -> bytes."""
        out = {}
        for name in OWNED:
            path = self.parish / name
            for file in [path] if path.is_file() else sorted(path.rglob("*")):
                if file.is_file():
                    out[file.relative_to(self.parish).as_posix()] = file.read_bytes()
        return out

    def put_back(self, owned: Mapping[str, bytes]) -> None:
        """Make the parish what it was."""
        for name in self.owned().keys() - owned.keys():
            (self.parish / name).unlink()
        for name, data in owned.items():
            path = self.parish / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if not path.is_file() or path.read_bytes() != data:
                path.write_bytes(data)


def ground(folder: Path) -> Ground:
    """Found a parish with a singer in a folder, and a scratch folder beside it."""
    parish, scratch = folder / "parish", folder / "scratch"
    copy_demo(parish)
    (parish / "own").mkdir(exist_ok=True)
    scratch.mkdir()
    store = open_store(f"sqlite:///{parish / 'records.sqlite'}")
    with store.write() as session:
        add_person(session, "Anna", "woman")
    back_up(store, parish, folder / "backup.zip")
    store.close()
    made = Ground(parish, scratch)
    # What is read once and kept would count against the first case.
    for raw in (b"", *whole()["hymn"]):
        hymn = hymnfile.loads((raw or b"O Lord, hear me.").decode())
        made.sung(hymn)
    words.read_words(PAGE)
    return made


def difference(before: Mapping[str, bytes], after: Mapping[str, bytes], *, asked: bool) -> str:
    """What was lost or changed, as a sentence; empty when all is well.

    Parameters
    ----------
    before, after : mapping
        From `Ground.owned`.
    asked : bool
        Whether a change was asked for; the version before must then stand beside the new one.
    """
    for name, data in before.items():
        if name.endswith("~"):
            continue
        if name not in after:
            return f"{name} is gone"
        if after[name] != data:
            if not asked:
                return f"{name} was changed"
            if after.get(f"{name}~") != data:
                return f"{name} was changed and the version before is not kept"
    new = [n for n in after.keys() - before.keys() if not n.endswith("~")]
    return f"{new[0]} appeared" if new and not asked else ""
