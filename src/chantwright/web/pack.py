"""The practice pack: a folder that any site can host, that works offline and listens.

`write_pack` finds and sets what is sung (`chantwright.parish.gather`), makes the recordings through
an executor, and writes pages, sounds, icons and a service worker. Whatever else lies in the folder
is left alone; files of an earlier pack that are no longer wanted are taken away.

References
----------
Service Workers, Web Application Manifest, Content Security Policy Level 3 (all W3C).
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor, Future, as_completed
from dataclasses import dataclass, replace
from datetime import date
from importlib import resources
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, Template, select_autoescape
from markupsafe import Markup
from minify_html import minify
from rjsmin import jsmin

from chantwright import safefile
from chantwright.engrave import Ladder, StaffOptions, ladder, pitch_name
from chantwright.parish import (
    LETTERS,
    ParishFolder,
    Piece,
    Session,
    gather,
    load_knowledge,
    singers_of,
    tone_text,
)
from chantwright.parish.order import Progress
from chantwright.parish.paper import day_text
from chantwright.parish.whole import file_name, sung_pieces
from chantwright.score import Hymn, number
from chantwright.tones import Tones
from chantwright.tuning import degree_name
from chantwright.voice import Timing, TrackOptions
from chantwright.voice.recording import record
from chantwright.web.packdata import as_script, hymn_data
from chantwright.web.packicons import SIZES, draw_icon
from chantwright.web.packladder import short_ladder
from chantwright.web.packscore import draw_score

__all__ = [
    "KINDS",
    "MODES",
    "MODULES",
    "Pack",
    "PackHymn",
    "environment",
    "static_bytes",
    "tight",
    "write_pack",
    "zip_pack",
]

KINDS = {"opus": "audio/ogg; codecs=opus", "mp3": "audio/mpeg"}
"""Kinds of recording in a pack, the smaller one first."""

MODES = ("full", "echo")
MODULES = (
    "pitch.js",
    "line.js",
    "chain.js",
    "laying.js",
    "settling.js",
    "hearing.js",
    "drone.js",
    "awake.js",
    "player.js",
    "ison.js",
    "marks.js",
    "results.js",
    "singing.js",
    "keeping.js",
    "desk.js",
    "page.js",
)
"""Browser modules in the order in which each needs those before it."""

_LIST = "contents.json"
_UNLISTED = (_LIST, "sw.js")  # these two carry the sums of all others
_OLDER_LIST = "pack-files.json"  # of packs of earlier releases
_MAKING = ".being-made.json"  # there only while a pack is made


@dataclass(frozen=True, slots=True)
class PackHymn:
    """A hymn of the pack, ready for a page.

    Attributes
    ----------
    id, page : str
        Its name on the page, and the page's file.
    piece : Piece
        Place in the order.
    tone, base : str
        As printed.
    score : Markup
        Readings and cuts.
    words : tuple of str
        Phrase by phrase.
    data : mapping
        See `chantwright.web.packdata.hymn_data`.
    script : Markup
        The same as JSON.
    """

    id: str
    page: str
    piece: Piece
    tone: str
    base: str
    score: Markup
    words: tuple[str, ...]
    data: Mapping[str, Any]
    script: Markup

    @property
    def title(self) -> str:
        """The hymn's title."""
        return str(self.data["title"])


@dataclass(frozen=True, slots=True)
class Pack:
    """What was written.

    Attributes
    ----------
    out : Path
        The folder.
    version : str
        Of the contents; another content has another version.
    hymns : tuple of PackHymn
        In order.
    sessions : tuple of Session
        The services.
    missing, warnings, remarks : tuple of str
        Items without words yet; sentences about pitch; what the voice had to guess.
    folder : ParishFolder
        The parish.
    ladders : tuple of (str, Ladder)
        Name of a tone's branch and its ladder; that of the week's tone first.
    tone : str
        The tone of the week.
    """

    out: Path
    version: str
    hymns: tuple[PackHymn, ...]
    sessions: tuple[Session, ...]
    missing: tuple[str, ...]
    warnings: tuple[str, ...]
    remarks: tuple[str, ...]
    folder: ParishFolder
    ladders: tuple[tuple[str, Ladder], ...]
    tone: str


def environment() -> Environment:
    """Jinja2 over our templates, everything escaped."""
    made = Environment(
        loader=PackageLoader("chantwright.web"),
        autoescape=select_autoescape(("html",)),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["day_text"] = day_text
    return made


def static_bytes(name: str) -> bytes:
    """Read one of our own files for the browser, without what it does not read."""
    data = (resources.files("chantwright.web") / "static" / name).read_bytes()
    if name.endswith(".js"):
        return tight(data.decode()).encode()
    return tight(data.decode(), "style").encode() if name.endswith(".css") else data


def tight(text: str, kind: str = "script") -> str:
    """Write a script or a style as shortly as it can be said."""
    opening, closing = f"<{kind}>", f"</{kind}>"
    bare = str(jsmin(text)) if kind == "script" else text
    short = minify(f"{opening}{bare}{closing}", minify_js=True, minify_css=True)
    # A word for other tools, of no use to a browser.
    short = str(short).replace("/* @__PURE__ */ ", "")
    return short.removeprefix(opening).removesuffix(closing)


def _record(
    hymn: Hymn, tones: Tones, out: Path, stem: str, tags: dict[str, str]
) -> tuple[dict[str, tuple[Timing, dict[str, str]]], tuple[str, ...]]:
    tracks: dict[str, tuple[Timing, dict[str, str]]] = {}
    remarks: tuple[str, ...] = ()
    for mode in MODES:
        files = {kind: f"sound/{stem}-{mode}.{kind}" for kind in KINDS}
        paths = [out / name for name in files.values()]
        made = record(hymn, tones, paths, TrackOptions(mode=mode), tags)
        tracks[mode] = (made.timing, files)
        remarks = made.remarks
    return tracks, remarks


def _hymn_of(piece: Piece) -> Hymn:
    if piece.singable is None:
        raise ValueError("a piece without music has no hymn")
    return piece.singable.hymn


def _base_text(hymn: Hymn) -> str:
    if hymn.base is None:
        return ""
    name, cents = pitch_name(hymn.base.hz)
    off = f" {cents:+.0f} cents" if abs(cents) >= 0.5 else ""
    return f"{degree_name(hymn.base.degree).capitalize()} = {name}{off}"


def _packed(
    piece: Piece,
    stem: str,
    tones: Tones,
    options: StaffOptions,
    tracks: Mapping[str, tuple[Timing, Mapping[str, str]]],
) -> PackHymn:
    hymn = number(_hymn_of(piece))
    name = f"h{piece.number}"
    score = draw_score(hymn, tones, options, name)
    data = hymn_data(
        hymn,
        tones,
        name=name,
        file=piece.file,
        number_=piece.number,
        tracks=tracks,
        prefixes=score.prefixes,
    )
    return PackHymn(
        name,
        f"{stem}.html",
        piece,
        tone_text(hymn, tones),
        _base_text(hymn),
        score.html,
        tuple(p.words for p in hymn.phrases),
        data,
        Markup(as_script(data)),
    )


def _ladders(sessions: Sequence[Session], tones: Tones) -> tuple[tuple[str, Ladder], ...]:
    """Ladders of every branch that is sung, in order, each once."""
    sung: dict[str, set[int]] = {}
    for session in sessions:
        for piece in session.pieces:
            if piece.singable is not None and piece.singable.hymn.branch is not None:
                hymn = piece.singable.hymn
                degrees = sung.setdefault(str(hymn.branch), set())
                for phrase in hymn.phrases:
                    degrees.update(n.degree for s in phrase.syllables for n in s.notes)
    week = next((s.day.tone for s in sessions if s.day is not None and s.day.tone), None)
    out = []
    for name, degrees in sung.items():
        branch = tones.branch(name)
        drawn = ladder(branch, tones, sung=sorted(degrees))
        text = tone_text(Hymn(tone=branch.tone), tones)
        style = name.partition(".")[2].replace("_", " ")
        drawn = replace(drawn, svg=short_ladder(drawn.svg))
        out.append((branch.tone != week, f"{text}, {style}" if style else text, drawn))
    return tuple((text, drawn) for _, text, drawn in sorted(out, key=lambda row: row[0]))


def write_pack(
    folder: ParishFolder,
    day: date,
    out: Path,
    *,
    executor: Executor,
    progress: Progress,
) -> Pack:
    """Write the practice pack of a weekend.

    Parameters
    ----------
    folder : ParishFolder
        The parish.
    day : date
        A civil date; the coming Saturday evening and Sunday are packed.
    out : Path
        Folder to write; made if it is not there.
    executor : Executor
        Runs the recordings.
    progress : callable
        Called with a label, steps done and steps in all.

    Returns
    -------
    Pack

    Raises
    ------
    ChantError
        If nothing is planned, or a plan or hymn file is not understood.
    """
    knowledge = load_knowledge(folder.overrides)
    tones = knowledge.tones
    singers = singers_of(folder, tones)
    sessions, missing, warnings = gather(folder, day, knowledge, singers, progress)
    pieces = sung_pieces(folder, sessions)
    earlier = _earlier(out)
    (out / "sound").mkdir(parents=True, exist_ok=True)
    stems = {p.number: f"{p.number:02d}-{file_name(_hymn_of(p).title)}" for p in pieces}
    # Noted before it is made, so that the next pack clears away what is left of one cut off.
    coming = {f"{stem}.html" for stem in stems.values()}
    coming |= {f"sound/{stem}-{m}.{k}" for stem in stems.values() for m in MODES for k in KINDS}
    safefile.write_text(out / _MAKING, json.dumps(sorted(earlier | coming)))
    running: dict[Future[Any], Piece] = {}
    for piece in pieces:
        hymn = _hymn_of(piece)
        tags = {"title": hymn.title, "album": folder.name, "tracknumber": str(piece.number)}
        job = executor.submit(_record, hymn, tones, out, stems[piece.number], tags)
        running[job] = piece
    options = StaffOptions(letters=LETTERS[folder.letters])
    packed: dict[int, PackHymn] = {}
    remarks: list[str] = []
    for done, job in enumerate(as_completed(running), start=1):
        piece = running[job]
        tracks, said = job.result()
        packed[piece.number] = _packed(piece, stems[piece.number], tones, options, tracks)
        remarks += [f"{_hymn_of(piece).title}: {sentence}" for sentence in said]
        progress(f"packed {_hymn_of(piece).title}", done, len(running))
    week = next((s.day.tone for s in sessions if s.day is not None and s.day.tone), None)
    pack = Pack(
        out,
        "",
        tuple(packed[n] for n in sorted(packed)),
        sessions,
        missing,
        warnings,
        tuple(remarks),
        folder,
        _ladders(sessions, tones),
        tone_text(Hymn(tone=week), tones) if week is not None else "",
    )
    return _written(pack, earlier)


def _assets() -> dict[str, bytes]:
    files = {name: static_bytes(f"pack/{name}") for name in (*MODULES, "worklet.js", "pack.css")}
    fonts = resources.files("chantwright.web") / "static" / "fonts"
    for font in sorted(fonts.iterdir(), key=lambda f: f.name):
        if font.name in FONTS or font.name == "OFL.txt":
            files[f"fonts/{font.name}"] = font.read_bytes()
    for side in SIZES:
        files[f"icon-{side}.png"] = draw_icon(side)
    return files


FONTS = tuple(
    f"libertinus-serif-{part}-normal.woff2"
    for part in ("latin-400", "latin-700", "greek-400", "greek-ext-400")
)


def _manifest(pack: Pack) -> bytes:
    icons = [
        {"src": f"icon-{s}.png", "sizes": f"{s}x{s}", "type": "image/png", "purpose": purpose}
        for s in SIZES
        for purpose in ("any", "maskable")
    ]
    document = {
        "name": f"Practice: {pack.folder.name}" if pack.folder.name else "Chant practice",
        "short_name": "Practice",
        "start_url": "index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": "#fbf8f1",
        "theme_color": "#fbf8f1",
        "icons": icons,
    }
    return json.dumps(document, ensure_ascii=False, separators=(",", ":")).encode()


def _page(template: Template, **shown: Any) -> bytes:
    """Write a page without the indents, line ends and quote marks that it can do without."""
    return str(minify(template.render(**shown))).encode()


def _written(pack: Pack, earlier: frozenset[str]) -> Pack:
    env = environment()
    files = _assets()
    files["manifest.webmanifest"] = _manifest(pack)
    by_number = {h.piece.number: h for h in pack.hymns}
    files["index.html"] = _page(env.get_template("pack/cover.html"), pack=pack, pages=by_number)
    for place, hymn in enumerate(pack.hymns):
        files[hymn.page] = _page(
            env.get_template("pack/hymn.html"),
            pack=pack,
            hymn=hymn,
            kinds=KINDS,
            before=pack.hymns[place - 1] if place else None,
            after=pack.hymns[place + 1] if place + 1 < len(pack.hymns) else None,
        )
    sums = {name: hashlib.sha256(data).hexdigest()[:16] for name, data in sorted(files.items())}
    sounds: dict[str, dict[str, str]] = {}
    for kind in KINDS:
        names = sorted(t["files"][kind] for h in pack.hymns for t in h.data["tracks"].values())
        sounds[kind] = {
            name: hashlib.sha256((pack.out / name).read_bytes()).hexdigest()[:16] for name in names
        }
    contents = json.dumps({"files": sums, "sounds": sounds}, separators=(",", ":"))
    version = hashlib.sha256(contents.encode()).hexdigest()[:16]
    files["contents.json"] = contents.encode()
    files["sw.js"] = static_bytes("pack/sw.js").replace(b"__VERSION__", version.encode())
    (pack.out / "fonts").mkdir(exist_ok=True)
    # Each comes after what it names: the cover after the pages, the service worker last of all.
    turn = {"index.html": 1, "contents.json": 2, "sw.js": 3}
    for name in sorted(files, key=lambda n: turn.get(n, 0)):
        safefile.write_bytes(pack.out / name, files[name])
    now = frozenset({*files, *sounds["opus"], *sounds["mp3"]})
    for name in sorted(earlier - now):
        (pack.out / name).unlink(missing_ok=True)
    (pack.out / _MAKING).unlink(missing_ok=True)
    return replace(pack, version=version)


def _listed(out: Path) -> list[str]:
    """Every file of the pack in a folder, in order."""
    held = json.loads((out / _LIST).read_text(encoding="utf-8"))
    sounds = [name for kind in held["sounds"].values() for name in kind]
    return sorted([*held["files"], *sounds, *_UNLISTED])


def _earlier(out: Path) -> frozenset[str]:
    """Files that an earlier pack wrote into the folder, one that was cut off included."""
    names: list[object] = []
    try:
        for held in (_OLDER_LIST, _MAKING):
            if (out / held).exists():
                names += [*json.loads((out / held).read_text(encoding="utf-8")), held]
        if (out / _LIST).exists():
            names += _listed(out)
        root = out.resolve()
        return frozenset(
            n for n in names if isinstance(n, str) and (root / n).resolve().is_relative_to(root)
        )
    except (OSError, ValueError, TypeError, LookupError, AttributeError):
        return frozenset()


def zip_pack(pack: Pack, path: Path) -> Path:
    """Write the pack as one zip, the same octets for the same contents."""
    names = _listed(pack.out)
    with safefile.writing(path) as temporary, zipfile.ZipFile(temporary, "w") as archive:
        for name in names:
            info = zipfile.ZipInfo(f"{path.stem}/{name}", (1980, 1, 1, 0, 0, 0))
            info.external_attr = 0o644 << 16
            packed = os.path.splitext(name)[1] not in (".opus", ".mp3", ".png", ".woff2")  # noqa: PTH122
            info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
            archive.writestr(info, (pack.out / name).read_bytes())
    return path
