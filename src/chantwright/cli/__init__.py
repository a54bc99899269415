"""One short verb for each step of the job, and one for the whole of it.

A verb's module is opened when the verb is asked for: the list of the verbs is there at once, and
no verb waits for what only another needs.
"""

from __future__ import annotations

import click

from chantwright import __version__
from chantwright.cli.frame import Verb, Verbs

__all__ = ["VERBS", "main"]

VERBS = (
    Verb("week", "knowledge", "What is sung this week, in which tone, and why."),
    Verb("calendar", "dates", "Tones, services and deadlines as a calendar file."),
    Verb("yearbook", "dates", "Hold a diocesan yearbook against the computed tones."),
    Verb("words", "hymns", "Syllables, stresses and phrases of a text."),
    Verb("set", "hymns", "Set words to the melody of a tone."),
    Verb("choose", "settings", "Choose between two settings; your taste is remembered."),
    Verb("fit", "settings", "Sing new words to the melody of a known hymn."),
    Verb("figures", "settings", "Propose the figures of a known melody as formula rows."),
    Verb("audition", "settings", "Hear and see one formula on words, and check it."),
    Verb("pitch", "hymns", "Find the pitch that fits your singers."),
    Verb("print", "making", "Print hymns as a booklet."),
    Verb("handout", "making", "One page on a tone: ladder, intonation, a hymn by heart."),
    Verb("sing", "singing", "Make a practice recording."),
    Verb("convert", "exchange", "Take in or hand out the files of other music programs."),
    Verb("course", "lessons", "A course, one tone a week, with a handout for each."),
    Verb("hear", "verdicts", "Hear a singer: a verdict on a recording of a hymn."),
    Verb("range", "hearing", "Take a singer's range from a recording."),
    Verb("name", "hearing", "Base, scale and tone of free singing."),
    Verb("hold", "hearing", "How steadily a hymn's ison was held."),
    Verb("transcribe", "hearing", "Write down a sung melody as a hymn file."),
    Verb("check", "knowledge", "Look for mistakes in tones, formulas and your own rows."),
    Verb("prepare", "whole", "The whole job for the coming Saturday evening and Sunday."),
    Verb("pack", "packing", "A practice folder for the singers' phones."),
    Verb("serve", "serving", "Open your parish in the browser, on this computer alone."),
    Verb("invite", "serving", "Invite a teacher to sign in to a hosted parish."),
    Verb("singers", "keeping", "Who sings, and everything kept of one singer."),
    Verb("backup", "keeping", "Everything of your parish in one file."),
    Verb("restore", "keeping", "Put a parish back from such a file."),
    Verb("found", "whole", "Found a parish folder."),
    Verb("demo", "whole", "The whole job for an invented parish."),
)
"""In the order of the job: the verb, the module of this package that has it as ``NAME_verb``, and
what it says of itself."""


@click.group(
    cls=Verbs,
    verbs=VERBS,
    package=__name__,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(__version__, prog_name="chantwright")
def main() -> None:
    """From a date and plain words to a booklet you can sing from, with practice recordings.

    For the person who leads and teaches Byzantine chant in a parish. Each verb does one step of
    the week's work; `prepare` does them all. Try first: chantwright demo
    """
