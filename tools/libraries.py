"""The libraries that chantwright runs with, their versions and licences, as the table of a page.

    python tools/libraries.py docs/libraries.md      write the table anew into the page
    python tools/libraries.py                        print it

What is told is what each library says of itself where it is installed.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, metadata, requires, version
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
BEGIN, END = "<!-- table begins -->", "<!-- table ends -->"
_NAME = re.compile(r"[A-Za-z0-9._-]+")


@dataclass(frozen=True, slots=True)
class Library:
    """A library: its version, what it says of its licence, and which library wants it first."""

    name: str
    version: str
    licence: str
    wanted_by: str


def wanted(extras: Iterable[str] = ()) -> list[str]:
    """Names that pyproject.toml asks for, with those of some extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    rows = [*project["dependencies"]]
    for extra in extras:
        rows += project["optional-dependencies"][extra]
    return [_plain(row) for row in rows]


def _plain(row: str) -> str:
    found = _NAME.match(row)
    assert found, row
    return found[0].lower().replace("_", "-")


def libraries(names: Iterable[str]) -> dict[str, Library]:
    """Tell of libraries and of all that they want in turn, by name."""
    todo, found = [(name, "") for name in names], dict[str, Library]()
    while todo:
        name, by = todo.pop(0)
        if name in found:
            continue
        try:
            found[name] = Library(name, version(name), licence(name), by)
        except PackageNotFoundError:  # for another system or an older Python
            continue
        todo += [(_plain(r), name) for r in requires(name) or [] if "extra ==" not in r]
    return found


def licence(name: str) -> str:
    """What a library says of its licence, in a few words."""
    about = metadata(name)
    if expression := about.get("License-Expression"):
        return str(expression)
    classes = [c.rpartition("::")[2].strip() for c in about.get_all("Classifier") or []
               if c.startswith("License")]  # fmt: skip
    named = [c for c in classes if c != "OSI Approved"]
    first = str(about.get("License") or "").strip().split("\n")[0]
    return " or ".join(named) if named else first[:60]


def table(names: Iterable[str]) -> str:
    """A row a library in Markdown, those that are asked for first."""
    rows = ["| library | version | licence | wanted by |", "|---|---|---|---|"]
    for one in sorted(libraries(names).values(), key=lambda x: (bool(x.wanted_by), x.name)):
        rows.append(f"| {one.name} | {one.version} | {one.licence} | {one.wanted_by} |")
    return "\n".join(rows)


def main() -> None:
    """Print the table, or write it into a page."""
    made = table(wanted(["telephones"]))
    if len(sys.argv) == 1:
        print(made)
        return
    page = Path(sys.argv[1])
    before, _, rest = page.read_text(encoding="utf-8").partition(BEGIN)
    after = rest.partition(END)[2]
    page.write_text(f"{before}{BEGIN}\n{made}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
