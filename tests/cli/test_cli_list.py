"""The list of the verbs, which is printed without opening any of their modules."""

from __future__ import annotations

import importlib
import pkgutil
import subprocess
import sys

import click
from click.testing import CliRunner

import chantwright.cli
from chantwright.cli import VERBS, main


def test_the_list_says_what_each_verb_says_of_itself() -> None:
    listed = CliRunner().invoke(main, ["--help"]).stdout.partition("Commands:\n")[2]
    context = click.Context(main)
    names = [line.split()[0] for line in listed.splitlines() if line.strip()]
    assert names == main.list_commands(context) == [verb.name for verb in VERBS]
    for verb in VERBS:
        command = main.get_command(context, verb.name)
        assert command is not None
        assert command.name == verb.name
        assert command.short_help == verb.short
        assert verb.short in " ".join(listed.split())


def test_no_verb_of_the_package_is_left_out() -> None:
    found = set()
    for module in pkgutil.iter_modules(chantwright.cli.__path__):
        opened = importlib.import_module(f"chantwright.cli.{module.name}")
        found |= {name for name in vars(opened) if name.endswith("_verb")}
    assert found == {f"{verb.name}_verb" for verb in VERBS}


def test_help_opens_no_verb() -> None:
    code = (
        "import sys; from chantwright.cli import main; main(['--help'], standalone_mode=False); "
        "print(sorted(m for m in sys.modules if m.startswith(('chantwright', 'numpy', 'scipy'))))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.splitlines()[-1] == str(
        ["chantwright", "chantwright.cli", "chantwright.cli.frame", "chantwright.errors"]
    )


def test_a_broken_character_is_no_fault_of_the_program() -> None:
    told = CliRunner().invoke(main, ["week", "--parish", "\ud800"])
    assert told.exit_code == 1
    assert "broken character" in told.output
