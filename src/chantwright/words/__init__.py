"""Words: cleaning of pasted text, syllables, stress and phrases.

`read_words` takes a text in any pasted state and returns its words divided and accented, with a
list of everything that was changed; `read_document` takes the words out of a text, Markdown, Word
or PDF file first. `to_phrases` makes score phrases of them; `divide` does so for a hymn that has
words alone. `psalm` gives psalms of the King James Version.

The teacher's marks always win: see ``docs/words.md``.
"""

from chantwright.words.accent import accented
from chantwright.words.document import Document, is_document, read_document
from chantwright.words.lines import divide, read_words, to_phrases
from chantwright.words.marking import marked, own_marks
from chantwright.words.phrasing import Division, divisions
from chantwright.words.psalter import psalm
from chantwright.words.source import divided_line, source_text
from chantwright.words.text import Change, Syl, Text, Word

__all__ = [
    "Change",
    "Division",
    "Document",
    "Syl",
    "Text",
    "Word",
    "accented",
    "divide",
    "divided_line",
    "divisions",
    "is_document",
    "marked",
    "own_marks",
    "psalm",
    "read_document",
    "read_words",
    "source_text",
    "to_phrases",
]
