"""One short verb for each step of the job, and one for the whole of it."""

from __future__ import annotations

import click

from chantwright import __version__
from chantwright.cli.dates import calendar_verb, yearbook_verb
from chantwright.cli.exchange import convert_verb
from chantwright.cli.frame import Verbs
from chantwright.cli.hearing import hold_verb, name_verb, range_verb, transcribe_verb
from chantwright.cli.hymns import pitch_verb, set_verb, words_verb
from chantwright.cli.keeping import backup_verb, restore_verb, singers_verb
from chantwright.cli.knowledge import check_verb, week_verb
from chantwright.cli.lessons import course_verb
from chantwright.cli.making import handout_verb, print_verb
from chantwright.cli.packing import pack_verb
from chantwright.cli.serving import invite_verb, serve_verb
from chantwright.cli.settings import audition_verb, choose_verb, figures_verb, fit_verb
from chantwright.cli.singing import sing_verb
from chantwright.cli.verdicts import hear_verb
from chantwright.cli.whole import demo_verb, found_verb, prepare_verb

__all__ = ["main"]


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="chantwright")
def main() -> None:
    """From a date and plain words to a booklet you can sing from, with practice recordings.

    For the person who leads and teaches Byzantine chant in a parish. Each verb does one step of
    the week's work; `prepare` does them all. Try first: chantwright demo
    """


for _verb in (
    week_verb,
    calendar_verb,
    yearbook_verb,
    words_verb,
    set_verb,
    choose_verb,
    fit_verb,
    figures_verb,
    audition_verb,
    pitch_verb,
    print_verb,
    handout_verb,
    sing_verb,
    convert_verb,
    course_verb,
    hear_verb,
    range_verb,
    name_verb,
    hold_verb,
    transcribe_verb,
    check_verb,
    prepare_verb,
    pack_verb,
    serve_verb,
    invite_verb,
    singers_verb,
    backup_verb,
    restore_verb,
    found_verb,
    demo_verb,
):
    main.add_command(_verb)
