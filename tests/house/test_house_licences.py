"""Every library the tool runs with has a licence that lets us hand the tool on."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, metadata, requires
from pathlib import Path

ROOT = Path(__file__).parents[2]
# Open Source Initiative, list of approved licences. Libraries under the LGPL and the GPL are used
# as they are and are not part of what we hand on; pyphen may be taken under the MPL or the LGPL.
ALLOWED = re.compile(
    r"\b(MIT(-0)?|0?BSD|Apache|Zlib|CC0|PSF|Python Software Foundation|ISC|MPL|"
    r"Mozilla Public License|LGPL|Lesser General Public)", re.IGNORECASE
)  # fmt: skip
_NAME = re.compile(r"[A-Za-z0-9._-]+")


def run_dependencies() -> dict[str, str]:
    """Name of every library that is installed for a plain run -> what it says of its licence."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    todo, found = [str(d) for d in project["dependencies"]], dict[str, str]()
    while todo:
        wanted = _NAME.match(todo.pop())
        name = wanted[0].lower().replace("_", "-") if wanted else ""
        if not name or name in found:
            continue
        try:
            about = metadata(name)
        except PackageNotFoundError:  # for another system or an older Python
            continue
        told = {k: about.get_all(k) or [] for k in ("License-Expression", "License", "Classifier")}
        said = [*told["License-Expression"], *(t[:200] for t in told["License"])]
        said += [c for c in told["Classifier"] if c.startswith("License")]
        found[name] = "; ".join(s for s in said if s)
        todo += [r for r in requires(name) or [] if "extra ==" not in r]
    return found


def test_every_library_of_a_run_has_an_allowed_licence() -> None:
    found = run_dependencies()
    assert len(found) > 30
    assert not {name: said for name, said in found.items() if not ALLOWED.search(said)}
