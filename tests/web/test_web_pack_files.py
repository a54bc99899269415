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
from PIL import Image
from web_pack_site import small_pack, small_parish  # noqa: F401 (fixtures)

from chantwright.cli import main
from chantwright.parish import open_folder
from chantwright.score import UNISON, Ison
from chantwright.tones import load_tones
from chantwright.voice import TrackOptions, sing
from chantwright.web.pack import MODULES, Pack, write_pack, zip_pack
from chantwright.web.packdata import as_script, hymn_data
from chantwright.web.packfile import joined

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


def test_budget(small_pack: Pack) -> None:
    sizes = {
        str(p.relative_to(small_pack.out)): p.stat().st_size
        for p in small_pack.out.rglob("*")
        if p.is_file()
    }
    scripts = sum(s for n, s in sizes.items() if n.endswith(".js"))
    assert scripts <= 60_000
    score = sum(len(str(h.score).encode()) for h in small_pack.hymns)
    plain = sum(s for n, s in sizes.items() if not n.startswith(("fonts/", "sound/")))
    assert plain - score <= 150_000


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


def test_the_same_week_is_the_same_pack_and_old_files_go(small_pack: Pack, tmp_path: Path) -> None:
    out = tmp_path / "pack"
    shutil.copytree(small_pack.out, out)
    (out / "mine.txt").write_text("kept", encoding="utf-8")
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
    zipped = zip_pack(again, tmp_path / "pack.zip")
    with zipfile.ZipFile(zipped) as archive:
        names = set(archive.namelist())
    listed = json.loads((out / "pack-files.json").read_text(encoding="utf-8"))
    assert names == {f"pack/{name}" for name in listed}
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
