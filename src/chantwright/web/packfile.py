"""The pack as one file for a USB stick: it plays and shows, from a computer without a network.

A page opened from a file may load no modules, so the browser modules are joined into one classic
script, and the worklet is opened from a data address. Recordings are inside, as MP3.

References
----------
HTML Living Standard, section 8.1.3 (module scripts need an origin); CSP Level 3 (hashes).
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

from markupsafe import Markup

from chantwright import safefile
from chantwright.web.pack import MODULES, Pack, PackHymn, environment, static_bytes, tight

__all__ = ["joined", "write_single"]

_IMPORT = re.compile(r'^import (\{[^}]*\}) from "\./(\w+)\.js";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export ((?:async )?(?:function|class|const|let)) (\w+)", re.MULTILINE)


def joined(names: tuple[str, ...]) -> str:
    """Join browser modules into one classic script, each in a scope of its own."""
    parts = ['"use strict";']
    for name in names:
        text = (resources.files("chantwright.web") / "static" / "pack" / name).read_text("utf-8")
        given = ", ".join(match[2] for match in _EXPORT.finditer(text))
        text = _EXPORT.sub(r"\1 \2", _IMPORT.sub(r"const \1 = \2_js;\n", text))
        stem = name.removesuffix(".js")
        parts.append(f"const {stem}_js = (() => {{\n{text}\nreturn {{ {given} }};\n}})();")
    return tight("(() => {\n" + "\n".join(parts) + "\n})();\n")


def _style() -> str:
    def inside(match: re.Match[str]) -> str:
        data = base64.b64encode(static_bytes(match[1])).decode()
        return f'url("data:font/woff2;base64,{data}")'

    return re.sub(r"url\((fonts/[^)]+)\)", inside, static_bytes("pack/pack.css").decode())


def _sounds(pack: Pack) -> Iterator[tuple[str, str]]:
    for hymn in pack.hymns:
        for mode, track in hymn.data["tracks"].items():
            data = (pack.out / track["files"]["mp3"]).read_bytes()
            yield f"{hymn.id}-{mode}", base64.b64encode(data).decode()


def _link(hymn: PackHymn) -> str:
    return f"#{hymn.id}"


def _hash(code: str) -> str:
    return base64.b64encode(hashlib.sha256(code.encode()).digest()).decode()


def write_single(pack: Pack, path: Path) -> Path:
    """Write the pack as one HTML file.

    Parameters
    ----------
    pack : Pack
        As written; its recordings are read from its folder.
    path : Path
        The file.
    """
    script = joined(MODULES)
    html = (
        environment()
        .get_template("pack/single.html")
        .render(
            pack=pack,
            pages={h.piece.number: h for h in pack.hymns},
            link=_link,
            kinds={},
            style=Markup(_style()),
            script=Markup(script),
            script_hash=_hash(script),
            worklet=Markup(joined(("pitch.js", "worklet.js"))),
            sounds=tuple(_sounds(pack)),
        )
    )
    safefile.write_text(path, html)
    return path
