"""Ask whether anything is known against the libraries that chantwright runs and is tested with.

    python tools/audit.py            what can be asked is asked; what cannot be reached is said

Asked are: whether the installed libraries fit each other; whether a version was withdrawn by its
maker; the advisories on Python libraries, which the index tells of the newest version of each, and
two services of any version, by pip-audit in an environment of its own; and those on the checkers of
the pages, by npm. Ends with code 1 where something was found, and with code 2 where
nothing was found but a question stayed unanswered: that is no clean bill.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import urllib.request
import venv
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from importlib.metadata import distributions
from pathlib import Path

from pip._internal.models.index import PyPI  # pip alone knows the address of its index

CLEAN, FOUND, UNANSWERED = "nothing found", "FOUND", "NOT ANSWERED"
_PAGES = {"typescript": "5.9.3", "axe-core": "4.14.1", "@types/audioworklet": "0.0.100"}
_PATIENCE = 300
_OWN = "chantwright"


@dataclass(frozen=True, slots=True)
class Answer:
    """What was asked, how it ended (one of the three words above), and what was told."""

    asked: str
    end: str
    told: str


def _run(command: Sequence[str | Path], folder: Path | None = None) -> tuple[int, str, str]:
    try:
        done = subprocess.run(
            [str(word) for word in command], cwd=folder, capture_output=True, text=True,
            check=False, timeout=_PATIENCE,
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired) as exc:
        return -1, "", str(exc)
    return done.returncode, done.stdout, done.stderr


def _last(*texts: str) -> str:
    lines = [line.strip() for text in texts for line in text.splitlines() if line.strip()]
    return lines[-1][:300] if lines else ""


def installed() -> list[str]:
    """Every library of this environment with its version, as pip writes it."""
    rows = {f"{d.metadata['Name']}=={d.version}" for d in distributions()}
    return sorted(row for row in rows if not row.startswith(f"{_OWN}=="))


def fitting() -> Answer:
    """Whether the installed libraries fit each other, by pip."""
    code, out, err = _run([sys.executable, "-m", "pip", "check"])
    return Answer("libraries fit each other", FOUND if code else CLEAN, _last(err, out))


def withdrawn(rows: Sequence[str]) -> Answer:
    """Whether a version was withdrawn by its maker, by pip's report of what it would install."""
    asked = f"versions withdrawn by their makers ({len(rows)} libraries)"
    code, out, err = _run(
        [sys.executable, "-m", "pip", "--quiet", "install", "--dry-run", "--ignore-installed",
         "--no-deps", "--no-build-isolation", "--report", "-", *rows]
    )  # fmt: skip
    if code:
        return Answer(asked, UNANSWERED, _last(err))
    report = json.loads(out)["install"]
    gone = [r["metadata"]["name"] for r in report if r.get("is_yanked")]
    return Answer(asked, FOUND if gone else CLEAN, ", ".join(gone) or f"{len(report)} looked up")


def _of_newest(row: str) -> tuple[str, list[str] | None]:
    """What the index that pip knows tells of a library; None where it speaks of another version."""
    name, _, installed_version = row.partition("==")
    try:
        with urllib.request.urlopen(f"{PyPI.pypi_url}/{name}/json", timeout=_PATIENCE) as answer:
            told = json.load(answer)
        if told["info"]["version"] != installed_version:
            return row, None
        return row, [f"{name} {v['id']}" for v in told["vulnerabilities"] if not v["withdrawn"]]
    except (OSError, ValueError, KeyError, TypeError):
        return row, None


def newest(rows: Sequence[str]) -> Iterator[Answer]:
    """Advisories on libraries whose newest version is here, by the page of each at the index."""
    with ThreadPoolExecutor(4) as threads:
        told = dict(threads.map(_of_newest, rows))
    known = {row: found for row, found in told.items() if found is not None}
    bad = [one for found in known.values() for one in found]
    asked = f"advisories on {len(known)} Python libraries in their newest version, of the index"
    yield Answer(asked, FOUND if bad else CLEAN if known else UNANSWERED, ", ".join(bad) or "none")
    if older := sorted(set(rows) - set(known)):
        asked = f"advisories on {len(older)} whose newest version is not here"
        yield Answer(asked, UNANSWERED, ", ".join(older))


def advisories(rows: Sequence[str], folder: Path) -> Iterator[Answer]:
    """Advisories on Python libraries, by pip-audit, of each service that it knows."""
    names = {"pypi": "the index", "osv": "the open vulnerability database"}
    venv.create(folder / "venv", with_pip=True)
    python = folder / "venv" / "bin" / "python"
    code, _, err = _run([python, "-m", "pip", "--quiet", "install", "pip-audit"])
    wanted = folder / "libraries.txt"
    wanted.write_text("\n".join(rows) + "\n", encoding="utf-8")
    for service, name in names.items():
        asked = f"advisories on Python libraries, of {name}"
        if code:
            yield Answer(asked, UNANSWERED, _last(err))
            continue
        end, out, told = _run(
            [python, "-m", "pip_audit", "--progress-spinner", "off", "--format", "json",
             "--disable-pip", "--no-deps", "--vulnerability-service", service, "-r", wanted]
        )  # fmt: skip
        try:
            found = json.loads(out)["dependencies"]
        except (ValueError, KeyError):
            yield Answer(asked, UNANSWERED, f"code {end}: {_last(out, told)}")
            continue
        bad = [f"{d['name']} {v['id']}" for d in found for v in d.get("vulns", ())]
        unknown = [d["name"] for d in found if "skip_reason" in d]
        told = ", ".join(bad) or f"{len(found) - len(unknown)} looked up"
        told += f"; not known there: {', '.join(unknown)}" if unknown else ""
        yield Answer(asked, FOUND if bad else UNANSWERED if unknown else CLEAN, told)


def pages(folder: Path) -> Answer:
    """Advisories on the checkers of the pages, by npm; none of them is part of what is run."""
    asked = f"advisories on {', '.join(_PAGES)}"
    about = {"name": "pages", "version": "1.0.0", "private": True, "dependencies": _PAGES}
    (folder / "package.json").write_text(json.dumps(about), encoding="utf-8")
    code, _, err = _run(
        ["npm", "install", "--package-lock-only", "--no-audit", "--no-fund"], folder
    )
    if code:
        return Answer(asked, UNANSWERED, _last(err))
    code, out, err = _run(["npm", "audit", "--json"], folder)
    try:
        count = json.loads(out)["metadata"]["vulnerabilities"]["total"]
    except (ValueError, KeyError, TypeError):
        lines = [x for x in err.splitlines() if "warn" in x or "error" in x]
        return Answer(asked, UNANSWERED, _last("\n".join(lines[:1])) or f"code {code}")
    return Answer(asked, FOUND if count else CLEAN, f"{count} advisories")


def main() -> int:
    """Ask everything; return the code to end with."""
    rows = installed()
    with tempfile.TemporaryDirectory(prefix="audit-") as name:
        folder = Path(name)
        questions: list[Callable[[], Iterator[Answer]]] = [
            lambda: iter([fitting()]), lambda: iter([withdrawn(rows)]),
            lambda: newest(rows), lambda: advisories(rows, folder), lambda: iter([pages(folder)]),
        ]  # fmt: skip
        ends = set()
        for question in questions:
            for answer in question():
                print(f"{answer.end:14} {answer.asked}: {answer.told}", flush=True)
                ends.add(answer.end)
    return 1 if FOUND in ends else 2 if UNANSWERED in ends else 0


if __name__ == "__main__":
    raise SystemExit(main())
