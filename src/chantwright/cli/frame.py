"""What every command shares: errors as sentences, JSON on standard output, progress on the other.

A command that fails because of something the chanter can mend prints the sentence and ends with
code 1; wrong options end with code 2; a fault of our own ends with code 3 and says where its
details were written.
"""

from __future__ import annotations

import importlib
import json
import sys
import tempfile
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import click

from chantwright.errors import ChantError

__all__ = ["FAILED", "Verb", "Verbs", "echo_json", "existing", "progress_line"]

FAILED, FAULT = 1, 3


class Verb(NamedTuple):
    """A verb before its module is opened."""

    name: str
    module: str
    short: str


class Verbs(click.Group):
    """A group that turns errors into sentences, and opens a verb when it is asked for.

    Parameters
    ----------
    verbs : sequence of Verb
        In the order of the job.
    package : str
        The package that has their modules.
    """

    def __init__(
        self, *args: Any, verbs: Sequence[Verb] = (), package: str = "", **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self._verbs = {verb.name: verb for verb in verbs}
        self._package = package

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 (click passes it)
        """Verbs in the order of the job."""
        return list(self._verbs)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Open the module of a verb."""
        if (verb := self._verbs.get(cmd_name)) is not None and cmd_name not in self.commands:
            module = importlib.import_module(f"{self._package}.{verb.module}")
            self.add_command(getattr(module, f"{cmd_name}_verb"), cmd_name)
        return super().get_command(ctx, cmd_name)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """List the verbs without opening any."""
        with formatter.section("Commands"):
            formatter.write_dl([(verb.name, verb.short) for verb in self._verbs.values()])

    def invoke(self, ctx: click.Context) -> Any:
        """Run a verb."""
        try:
            return super().invoke(ctx)
        except ChantError as exc:
            click.echo(str(exc), err=True)
            ctx.exit(FAILED)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except BrokenPipeError:
            ctx.exit(FAILED)
        except UnicodeEncodeError:
            click.echo("What was typed holds a broken character. Type it again.", err=True)
            ctx.exit(FAILED)
        except OSError as exc:
            name = f"{exc.filename}: " if exc.filename else ""
            click.echo(f"{name}{exc.strerror or exc}.", err=True)
            ctx.exit(FAILED)
        except Exception:
            with tempfile.NamedTemporaryFile(
                "w", prefix="chantwright-", suffix=".txt", delete=False, encoding="utf-8"
            ) as report:
                report.write(traceback.format_exc())
            click.echo(
                "This is a fault of chantwright, not of yours; your files are unchanged. "
                f"Details for whoever mends it are in {report.name}",
                err=True,
            )
            ctx.exit(FAULT)


def echo_json(document: Any) -> None:
    """Print one JSON document."""
    click.echo(json.dumps(document, ensure_ascii=False, indent=1))


def progress_line(label: str, done: int, total: int) -> None:
    """Show one line that is rewritten on a terminal, or a line a step where it is not."""
    if sys.stderr.isatty():
        width = 24
        filled = width * done // max(total, 1)
        bar = "━" * filled + "┄" * (width - filled)
        end = "\n" if done >= total else ""
        click.echo(f"\r\033[K{bar} {done}/{total}  {label}{end}", err=True, nl=False)
    else:
        click.echo(f"{done}/{total}  {label}", err=True)


def existing(path: Path) -> Path:
    """Return the path, or raise a sentence if there is no such file."""
    if not path.is_file():
        raise ChantError(
            f"there is no file “{path}”.", remedy="Check the name and the folder you are in."
        )
    return path
