"""What the docs tell a reader to type is typed.

Every command that a page names has its verb and its options. On the pages for newcomers the blocks
marked ``console`` are run, one after another in one folder, and every line shown under a command is
in its answer (a line of three dots stands for what is left out). A block with a file's name after
its kind, such as ``text file=harbour.txt``, is that file.
"""

from __future__ import annotations

import re
import shlex
import textwrap
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from chantwright.cli import main

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
RUN = ("chanter.md", "choir-school.md", "developers.md")
FENCE = re.compile(r"^ *```([^\n]*)\n(.*?)^ *```$", re.MULTILINE | re.DOTALL)
INLINE = re.compile(r"`chantwright ([a-z][^`]*)`")


def commands(text: str) -> list[str]:
    """Every command that a page names: in blocks the lines that begin with it, and in the text."""
    found = []
    for _, block in FENCE.findall(text):
        for line in block.splitlines():
            typed = line.strip().removeprefix("$ ")
            if re.match(r"chantwright (?!result )[a-z]", typed):
                found.append(typed.removeprefix("chantwright "))
    return found + INLINE.findall(FENCE.sub("", text))


NAMED = [(page.name, line) for page in PAGES for line in commands(page.read_text("utf-8"))]


@pytest.mark.parametrize(("page", "line"), NAMED, ids=[f"{p}: {c}" for p, c in NAMED])
def test_every_command_of_the_docs_is_understood(page: str, line: str) -> None:
    words = [w for w in shlex.split(line, comments=True) if w not in ("...", "…", "--help")]
    group: click.Command = main
    while isinstance(group, click.Group) and words:
        verb = group.get_command(click.Context(group), words[0])
        assert verb is not None, f"{page}: there is no verb {words[0]}"
        group, words = verb, words[1:]
    if not words:
        return
    needed = [w for w in words if w.startswith("-")]
    try:
        group.make_context(group.name or "", list(words))
    except click.MissingParameter:
        assert needed or len(words) < 3  # a page may name a verb with one option only
    except click.UsageError as exc:
        raise AssertionError(f"{page}: {line}: {exc.format_message()}") from None


def plain(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("name", RUN)
def test_the_examples_of_a_page_are_run(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = 0
    for kind, indented in FENCE.findall((ROOT / "docs" / name).read_text("utf-8")):
        block = textwrap.dedent(indented)
        if found := re.search(r"file=(\S+)", kind):
            path = tmp_path / found[1]
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(block, "utf-8")
        if kind.split()[:1] == ["python"]:
            exec(compile(block, f"{name}", "exec"), {})
            ran += 1
        if kind.split()[:1] != ["console"]:
            continue
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            line, _, shown = part.partition("\n")
            words = shlex.split(line, comments=True)
            assert words[0] == "chantwright", line
            answer = CliRunner().invoke(main, words[1:])
            assert answer.exit_code == 0, f"{line}\n{answer.output}"
            said = plain(answer.output)
            for wanted in (plain(one) for one in shown.splitlines()):
                assert wanted in ("", "...") or wanted in said, f"{line}\nsays\n{answer.output}"
            ran += 1
    assert ran > 0
