# ruff: noqa: F811 (fixtures)
"""The practice pack as files: what lies in the folder, how large it is, what it may do."""

from __future__ import annotations

import json
import os
import re
import shutil
import struct
import subprocess
import sys
import zipfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from lxml import etree, html
from PIL import Image
from web_pack_site import small_pack, small_parish  # noqa: F401 (fixtures)
from web_pack_sizes import sizes_of

from chantwright.cli import main
from chantwright.engrave import ladder
from chantwright.parish import copy_demo, demo_date, open_folder
from chantwright.score import UNISON, Hymn, Ison
from chantwright.tones import Tones, load_tones
from chantwright.voice import Timing, TrackOptions, sing
from chantwright.voice.timing import timed
from chantwright.voice.track import plan_of
from chantwright.voice.tract import RATE
from chantwright.web.pack import MODULES, Pack, write_pack, zip_pack
from chantwright.web.packdata import as_script, hymn_data
from chantwright.web.packfile import joined
from chantwright.web.packladder import short_ladder

STATIC = Path(str(resources.files("chantwright.web") / "static" / "pack"))
TOOLS = Path(os.environ.get("CHANTWRIGHT_NODE_TOOLS", Path(sys.prefix) / "npm"))


class _Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.inline: list[str] = []
        self.policy = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        self.found += [v for k, v in attrs if k in ("href", "src") and v and not v.startswith("#")]
        self.inline += [f"{tag} {k}" for k, _ in attrs if k == "style" or k.startswith("on")]
        if values.get("http-equiv") == "Content-Security-Policy":
            self.policy = str(values.get("content"))


def test_every_link_leads_to_a_file_of_the_pack(small_pack: Pack) -> None:
    pages = sorted(small_pack.out.glob("*.html"))
    assert len(pages) == 3
    for page in pages:
        links = _Links()
        links.feed(page.read_text(encoding="utf-8"))
        assert links.inline == [], page.name
        for link in links.found:
            assert (small_pack.out / link).is_file(), (page.name, link)
        assert links.policy.startswith("default-src 'none';")
        assert "unsafe" not in links.policy
        assert "http" not in links.policy


def _unsung(
    hymn: Hymn, tones: Tones, out: Path, stem: str, tags: dict[str, str]
) -> tuple[dict[str, tuple[Timing, dict[str, str]]], tuple[str, ...]]:
    """Plan the recordings of a hymn, but put a few octets in the place of their sound."""
    tracks = {}
    for mode in ("full", "echo"):
        plan, tempo, _ = plan_of(hymn, tones, TrackOptions(mode=mode))
        base = plan.base
        times = Timing(RATE, plan.length / RATE, float(tempo), base.degree, base.hz, plan.parts,
                       *timed(plan.phrases))  # fmt: skip
        files = {kind: f"sound/{stem}-{mode}.{kind}" for kind in ("opus", "mp3")}
        for name in files.values():
            (out / name).write_bytes(stem.encode())
        tracks[mode] = (times, files)
    return tracks, ()


@pytest.fixture(scope="module")
def whole_pack(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The demonstration's whole weekend, without the sound itself."""
    root = tmp_path_factory.mktemp("whole")
    parish = copy_demo(root / "parish")
    with pytest.MonkeyPatch.context() as patch, ThreadPoolExecutor(1) as pool:
        patch.setattr("chantwright.web.pack._record", _unsung)
        return write_pack(
            open_folder(parish), demo_date(parish), root / "pack",
            executor=pool, progress=lambda *_: None,
        )  # fmt: skip


def test_budget_of_a_whole_weekend(whole_pack: Pack) -> None:
    sizes = sizes_of(whole_pack.out)
    assert sizes.pages == len(whole_pack.hymns) == 19
    print(f"scripts {sizes.scripts}, pages and scripts {sizes.rest}, notes {sizes.notes}")
    assert sizes.scripts <= 60_000
    assert sizes.rest <= 150_000
    # Nothing hides among the scores: every drawing of a line, and the shapes that lines share.
    for hymn in whole_pack.hymns:
        page = (whole_pack.out / hymn.page).read_text(encoding="utf-8")
        assert page.count("<script") == 2
        assert sorted({e.tag for e in html.fromstring(page).iter() if isinstance(e.tag, str)}
                      - SCORE_TAGS) == PAGE_TAGS  # fmt: skip


SCORE_TAGS = {"svg", "defs", "g", "path", "use", "text", "tspan", "rect", "polygon", "ellipse",
              "circle", "line", "polyline", "div", "p"}  # fmt: skip
PAGE_TAGS = [
    "a", "article", "audio", "body", "br", "details", "h1", "head", "html", "link", "main", "meta",
    "nav", "script", "source", "span", "summary", "title",
]  # fmt: skip


def test_a_page_without_scripts_has_score_words_and_a_player(small_pack: Pack) -> None:
    for hymn in small_pack.hymns:
        page = html.parse(str(small_pack.out / hymn.page))
        sources = page.xpath("//audio[@controls]//source/@src")
        assert [Path(s).suffix for s in sources] == [".opus", ".mp3"]
        assert all((small_pack.out / s).is_file() for s in sources)
        said = page.xpath("string(//details[@class='words'])")
        assert all(words in said for words in hymn.words)
        assert len(page.xpath("//svg[contains(@class, 'system')]")) > 4
        # What needs a script is not there without one.
        assert not page.xpath("//button | //select | //input | //textarea")


def test_a_short_ladder_is_the_same_drawing() -> None:
    tones = load_tones()
    for branch in tones.branches.values():
        whole = etree.fromstring(ladder(branch, tones).svg)
        short = etree.fromstring(
            short_ladder(ladder(branch, tones).svg).replace("<svg", f'<svg xmlns="{SVG}"', 1)
        )
        assert _drawn(short) == _drawn(whole)
        assert len(etree.tostring(short)) < 0.6 * len(etree.tostring(whole))


SVG = "http://www.w3.org/2000/svg"


def _drawn(root: etree._Element) -> set[tuple[str, ...]]:
    """Lines, dots and texts with all that decides how they look, however they are written."""
    out: set[tuple[str, ...]] = set()

    def own(element: etree._Element, name: str) -> str:
        found = element.xpath(f"ancestor-or-self::*[@{name}][1]/@{name}")
        return str(found[0]) if found else ""

    for e in root.iter(f"{{{SVG}}}line", f"{{{SVG}}}path"):
        look = (e.get("stroke", ""), e.get("stroke-width", ""))
        if e.tag.endswith("line"):
            out.add((*look, *(f"{float(e.get(n, 0)):.2f}" for n in ("x1", "y1", "x2", "y2"))))
            continue
        for x, y, way, to in re.findall(r"M([\d.]+) ([\d.]+)([HV])([\d.]+)", e.get("d", "")):
            end = (to, y) if way == "H" else (x, to)
            out.add((*look, *(f"{float(v):.2f}" for v in (x, y, *end))))
    for e in root.iter(f"{{{SVG}}}text"):
        looks = ("font-size", "font-family", "font-weight", "text-anchor", "fill")
        place = [f"{float(e.get(n, 0)):.2f}" for n in ("x", "y")]
        out.add((e.text or "", *place, *(own(e, n) for n in looks)))
    for e in root.iter(f"{{{SVG}}}circle"):
        out.add(tuple(e.get(n, "") for n in ("cx", "cy", "r", "fill")))
    return out


def test_manifest_and_icons(small_pack: Pack) -> None:
    manifest = json.loads((small_pack.out / "manifest.webmanifest").read_text(encoding="utf-8"))
    assert manifest["display"] == "standalone"
    assert (small_pack.out / manifest["start_url"]).is_file()
    for icon in manifest["icons"]:
        data = (small_pack.out / icon["src"]).read_bytes()
        # PNG, ISO/IEC 15948: signature, then width and height in the first chunk.
        assert data[:8] == b"\x89PNG\r\n\x1a\n"
        wide, high = struct.unpack(">II", data[16:24])
        assert f"{wide}x{high}" == icon["sizes"]
    # Web Application Manifest: the kinds that telephones ask for.
    kinds = {(icon["sizes"], icon["purpose"]) for icon in manifest["icons"]}
    assert kinds == {(f"{s}x{s}", p) for s in (192, 512) for p in ("any", "maskable")}


def test_the_maskable_icon_keeps_its_drawing_in_the_middle(small_pack: Pack) -> None:
    # Web Application Manifest, icon masks: the safe zone is a circle of two fifths of the width.
    for side in (192, 512):
        with Image.open(small_pack.out / f"icon-{side}.png") as icon:
            grey = np.asarray(icon.convert("L"), float)
        drawn = np.argwhere(grey < 200)
        assert len(drawn) > 0.03 * side * side
        away = np.hypot(*(drawn - (side - 1) / 2).T)
        assert away.max() <= 0.4 * side


def test_recordings_are_as_long_as_their_maps(small_pack: Pack) -> None:
    for hymn in small_pack.hymns:
        for track in hymn.data["tracks"].values():
            for name in track["files"].values():
                with soundfile.SoundFile(str(small_pack.out / name)) as file:
                    assert len(file) / file.samplerate == pytest.approx(track["seconds"], abs=0.05)
        parts = [p[0] for p in hymn.data["tracks"]["echo"]["parts"]]
        assert parts.count("answer") == len(hymn.data["phrases"]) == parts.count("phrase")


def test_the_page_knows_the_ison_under_each_note(small_pack: Pack) -> None:
    piece = small_pack.hymns[0].piece
    assert piece.singable is not None
    hymn = piece.singable.hymn
    under: list[Ison] = [1, 4, UNISON, 1]
    count = 0
    phrases = []
    for phrase in hymn.phrases:
        syllables = []
        for syllable in phrase.syllables:
            syllables.append(replace(syllable, ison=under[count % 4]))
            count += 1
        phrases.append(replace(phrase, syllables=tuple(syllables)))
    hymn = replace(hymn, phrases=tuple(phrases))
    tones = load_tones()
    timing = sing(hymn, tones, TrackOptions(mode="melody", engine="plain")).timing
    data = hymn_data(
        hymn, tones, name="h1", file="praise.txt", number_=1,
        tracks={"full": (timing, {})}, prefixes=(),
    )  # fmt: skip
    # Pa stands 12 moria above ni and di 42, in every diatonic tone (committee of 1881).
    wanted = {1: 12.0, 4: 42.0, "unison": None}
    said = {n["syllable"]: n["ison"] for n in data["notes"]}
    assert [said[s] for s in said] == [
        wanted[u] if wanted[u] is None else pytest.approx(wanted[u], abs=0.001)
        for u in [under[i % 4] for i in range(count)]
    ]


def test_nothing_in_the_scripts_sends_anything() -> None:
    forbidden = re.compile(
        r"XMLHttpRequest|sendBeacon|WebSocket|EventSource|RTCPeer|method:|MediaRecorder|eval\(|https?:"
    )
    for name in (*MODULES, "worklet.js", "sw.js"):
        code = (STATIC / name).read_text(encoding="utf-8")
        assert forbidden.search(code) is None, name
        # The service worker alone asks for files, and only for the pack's own.
        assert ("fetch(" in code) == (name == "sw.js"), name


def test_the_same_week_is_the_same_pack_and_old_files_go(
    small_pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("chantwright.web.pack._record", _unsung)
    out = tmp_path / "pack"
    shutil.copytree(small_pack.out, out)
    (out / "mine.txt").write_text("kept", encoding="utf-8")
    # The list of an earlier release, which also names a file outside, as a broken one might.
    (tmp_path / "outside.txt").write_text("kept", encoding="utf-8")
    (out / "trace.js").write_text("old", encoding="utf-8")
    old = ["index.html", "trace.js", "../outside.txt"]
    (out / "pack-files.json").write_text(json.dumps(old), encoding="utf-8")
    # What a pack noted before it was cut off.
    (out / "sound" / "07-gone-full.opus").write_bytes(b"half")
    (out / ".being-made.json").write_text('["sound/07-gone-full.opus"]', encoding="utf-8")
    parish = small_parish(tmp_path / "parish")
    plan = next((parish / "services").glob("*lesson*"))
    plan.write_text(plan.read_text("utf-8").replace("Second: clap.txt\n", ""), encoding="utf-8")
    with ThreadPoolExecutor(1) as pool:
        again = write_pack(
            open_folder(parish), date(2026, 11, 28), out, executor=pool, progress=lambda *_: None
        )
    assert again.version != small_pack.version
    assert not list(out.glob("02-*"))
    assert not list((out / "sound").glob("02-*"))
    assert (out / "mine.txt").read_text(encoding="utf-8") == "kept"
    assert (tmp_path / "outside.txt").exists()
    assert not (out / "trace.js").exists()
    assert not (out / "pack-files.json").exists()
    assert not (out / "sound" / "07-gone-full.opus").exists()
    assert not (out / ".being-made.json").exists()
    zipped = zip_pack(again, tmp_path / "pack.zip")
    with zipfile.ZipFile(zipped) as archive:
        names = set(archive.namelist())
    ours = {p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file()} - {"mine.txt"}
    assert names == {f"pack/{name}" for name in ours}
    first = zipped.read_bytes()
    assert zip_pack(again, tmp_path / "pack.zip").read_bytes() == first


def test_no_words_can_close_the_script_they_stand_in() -> None:
    hostile = {"title": "</script><script>alert(1)</script> & <!--"}
    text = as_script(hostile)
    assert "<" not in text
    assert json.loads(text) == hostile


def test_nothing_planned_is_a_sentence(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["found", str(tmp_path / "parish"), "--name", "Nobody"])
    assert result.exit_code == 0, result.output
    result = CliRunner().invoke(
        main,
        ["pack", "2026-11-28", "--parish", str(tmp_path / "parish"), "-o", str(tmp_path / "o")],
    )
    assert result.exit_code == 1
    assert "no item of these services has a hymn file yet" in result.output


def _node() -> str:
    node = shutil.which("node")
    if node is None:  # pragma: no cover
        pytest.skip("THE PACK'S SCRIPTS WERE NOT CHECKED: no node")
    return node


def test_joined_into_one_script_it_is_still_one(tmp_path: Path) -> None:
    for number, names in enumerate((MODULES, ("pitch.js", "worklet.js"))):
        path = tmp_path / f"{number}.js"
        path.write_text(joined(names), encoding="utf-8")
        done = subprocess.run([_node(), "--check", str(path)], capture_output=True, check=False)
        assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    ("entry", "lib", "types"),
    [
        ("page.js", ["ES2022", "DOM", "DOM.Iterable"], []),
        ("worklet.js", ["ES2022"], ["audioworklet"]),
        ("sw.js", ["ES2022", "WebWorker"], []),
    ],
)
def test_types(entry: str, lib: list[str], types: list[str], tmp_path: Path) -> None:
    tsc = TOOLS / "node_modules" / "typescript" / "bin" / "tsc"
    if not tsc.exists():
        pytest.skip(f"TYPES WERE NOT CHECKED: no {tsc} (tools/setup.sh dev installs it)")
    config = {
        "compilerOptions": {
            "strict": True, "allowJs": True, "checkJs": True, "noEmit": True, "target": "ES2022",
            "module": "ES2022", "moduleResolution": "bundler", "lib": lib, "types": types,
            "skipLibCheck": True,
            "typeRoots": [str(TOOLS / "node_modules" / "@types")],
        },
        "files": [str(STATIC / entry)],
    }  # fmt: skip
    path = tmp_path / "tsconfig.json"
    path.write_text(json.dumps(config), encoding="utf-8")
    done = subprocess.run(
        [_node(), str(tsc), "-p", str(path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout
