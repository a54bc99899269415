"""Every library the tool runs with has a licence that lets us hand the tool on, and is told of."""

from __future__ import annotations

import re
import sys
from importlib import import_module
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tools"))
libraries = import_module("libraries")
# Open Source Initiative, list of approved licences. Libraries under the LGPL and the GPL are used
# as they are and are not part of what we hand on; pyphen may be taken under the MPL or the LGPL.
ALLOWED = re.compile(
    r"\b(MIT(-0)?|0?BSD|Apache|Zlib|CC0|PSF|Python Software Foundation|ISC|MPL|"
    r"Mozilla Public License|LGPL|Lesser General Public)", re.IGNORECASE
)  # fmt: skip
PAGE = (ROOT / "docs" / "libraries.md").read_text(encoding="utf-8")


def test_every_library_of_a_run_has_an_allowed_licence() -> None:
    found = libraries.libraries(libraries.wanted(["telephones"]))
    assert len(found) > 30
    assert not {n: one.licence for n, one in found.items() if not ALLOWED.search(one.licence)}


def test_the_page_of_libraries_tells_of_all_that_are_asked_for() -> None:
    rows = re.findall(r"^\| ([\w.-]+) \| ([\w.+!-]+) \| (.+?) \| *(.*?) *\|$", PAGE, re.MULTILINE)
    told = {name: (licence, by) for name, _, licence, by in rows if name != "library"}
    asked = libraries.wanted(["telephones"])
    assert sorted(asked) == sorted(name for name, (_, by) in told.items() if not by)
    now = {name: libraries.licence(name) for name in asked}
    assert {name: told[name][0] for name in asked} == now


def test_what_holds_parts_under_the_gpl_is_an_extra() -> None:
    # x264 and x265 are under the GPL: their own licence files.
    assert "av" not in libraries.wanted()
    assert "av" in libraries.wanted(["telephones"])
    assert "x264" in PAGE
    setup = (ROOT / "tools" / "setup.sh").read_text(encoding="utf-8")
    assert setup.count(".[telephones]") == 2
