"""From the engraver's page to clean systems.

A system has no style sheet and no style attributes, keeps the ids of the score and drops all
others, has its words and letters placed by `chantwright.engrave.lyrics`, and is cut close to its
ink. Its unit is 1/180 of a staff space.

The page is taken apart as text, not as a tree: the engraver writes it in one fixed shape, and a
booklet has hundreds of thousands of elements.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape, unescape

from chantwright.engrave.events import Event
from chantwright.engrave.lyrics import draw_letters, draw_words, text, written
from chantwright.engrave.mei import DRONE, NUMBER
from chantwright.engrave.natural import SPACE
from chantwright.engrave.options import FONT, StaffOptions

__all__ = ["SPACE", "Cut", "Drawing", "clean", "cut", "note_heads", "staff_right"]

_RED = "#a3121f"
_REMINDER = 0.84
"""A reminder that the drone goes on is smaller than a change."""
_HEAD_WIDTH = {"E0A2": 1.69, "E0A3": 1.18, "E0A4": 1.18}

_SYSTEM = re.compile(r'<g id="[^"]*" class="system">')
_PAGE_END = "</g></svg>"
_MILESTONE = re.compile(r'<g id="[^"]*" class="[^"]*pageMilestone[^"]*"/>')
_TOP = re.compile(r'class="[^"]*placeholder[^"]*"><ellipse cx="[^"]*" cy="([^"]*)"')
_GLYPH = re.compile(r'<g id="(\w+)-\w+">(.*?)</g>')
_USED = re.compile(r'href="#(\w+)-\w+"')
_VERSE = re.compile(r'<g id="[^"]*" class="verse">(?:<g [^>]*/>|<g [^>]*>.*?</g>)*</g>')
_DIR = re.compile(r'<g id="([^"]*)" class="dir">(.*?)</g>')
_PLACEHOLDER = re.compile(r'<g id="[^"]*" class="[^"]* ?placeholder[^"]*">.*?</g>')
_EMPTY = re.compile(r"<g[^>]*/>|<g[^>]*></g>")
_FOREIGN = re.compile(r'<g id="[^"]*" class="(?!note"|measure")')
_AT = re.compile(r'<text x="([^"]*)" y="([^"]*)"')
_SIZE = re.compile(r'font-size="([\d.]+)px"')
_TAG = re.compile(r"<[^>]*>")
_HEAD = re.compile(
    r'<g id="([^"]*)" class="note">'
    r'<g class="notehead"><use href="#(\w{4})\w*-\w+" transform="translate\((-?[\d.]+),'
)
_LINE = re.compile(r'<path d="M\S+ \S+ L(\S+) (\S+)" stroke-width="13"/>')
_SYLLABLE = re.compile(r'class="syl"><text x="[^"]*" y="([^"]*)"')


@dataclass(frozen=True, slots=True)
class Cut:
    """One system as the engraver drew it: its elements, where it begins, the glyphs of its page."""

    body: str
    top: float
    glyphs: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A system: SVG text, its words, and its width and height in drawing units."""

    svg: str
    words: str
    width: float
    height: float


def cut(page: str) -> list[Cut]:
    """Part a page into its systems."""
    front, *systems = _SYSTEM.split(page)
    if not systems:
        raise RuntimeError("the staff engraver drew no music")
    glyphs = dict(_GLYPH.findall(front))
    out = []
    for number, drawn in enumerate(systems):
        found = _TOP.search(drawn) if number else None
        # A font may follow the music on the page.
        body = _MILESTONE.sub("", drawn.partition(_PAGE_END)[0]).removesuffix("</g>")
        out.append(Cut(body, float(found[1]) if found else 0.0, glyphs))
    return out


def note_heads(body: str) -> dict[str, tuple[float, float]]:
    """Note id -> left edge and width of its head."""
    return {
        name: (float(x), _HEAD_WIDTH.get(code, 1.18) * SPACE)
        for name, code, x in _HEAD.findall(body)
    }


def staff_right(body: str) -> float:
    """Right end of the staff lines."""
    return max((float(x) for x, _ in _LINE.findall(body)), default=0.0)


def _over(found: Sequence[tuple[str, str]], options: StaffOptions) -> str:
    """Texts over the staff: letters of the drone, moria."""
    marks = []
    for name, inside in found:
        at = _AT.search(inside)
        size = max((float(n) for n in _SIZE.findall(inside)), default=0.0)
        words = unescape(_TAG.sub("", inside)).strip()
        if at is None:
            continue
        x, y = float(at[1]), float(at[2])
        if name.startswith(options.id_prefix + DRONE):
            goes_on = words.startswith("(")
            marks.append(
                text(
                    x,
                    y,
                    size * (_REMINDER if goes_on else 1),
                    words,
                    id=name,
                    class_="ison",
                    font_weight="" if goes_on else "bold",
                    fill="" if options.black else _RED,
                )
            )
        elif name.startswith(options.id_prefix + NUMBER):
            marks.append(text(x, y, size, words, id=name, class_="moria"))
    return f'<g class="over">{written(marks)}</g>' if marks else ""


def clean(system: Cut, events: Sequence[Event], options: StaffOptions, tag: str) -> Drawing:
    """Make a system of what the engraver drew.

    Parameters
    ----------
    system : Cut
        As it was drawn.
    events : sequence of Event
        Its notes.
    options : StaffOptions
        Sizes, colours, prefix of the ids.
    tag : str
        Keeps the names of its glyphs apart from those of other systems.

    Returns
    -------
    Drawing
    """
    body = system.body
    spoken = _spoken(events)
    heads = note_heads(body)
    if len(heads) < len(events):
        raise RuntimeError("the staff engraver left notes out")
    lines = [(float(x), float(y)) for x, y in _LINE.findall(body)]
    width = max(x for x, _ in lines)
    size = options.words_spaces * SPACE
    # The words stand where the engraver stacked them under the notes.
    lows = [float(y) for y in _SYLLABLE.findall(body)]
    baseline = min(lows) if lows else max(y for _, y in lines) + 2 * SPACE + size
    body = _VERSE.sub("", body)
    over = _over(_DIR.findall(body), options)
    body = _PLACEHOLDER.sub("", _DIR.sub("", body))
    body = _FOREIGN.sub('<g class="', _EMPTY.sub("", body))
    used = dict.fromkeys(_USED.findall(body))
    body = _USED.sub(rf'href="#\1-{tag}"', body)
    body = body.replace(" stroke-width=", ' stroke="currentColor" stroke-width=')
    glyphs = "".join([f'<g id="{name}-{tag}">{system.glyphs[name]}</g>' for name in used])
    under = written(draw_words(events, heads, options, baseline, size, width))
    under = f'<g class="words">{under}</g>'
    bottom = baseline + 0.27 * size
    if options.letters:
        low = baseline + 1.02 * size
        letters = written(draw_letters(events, heads, options, low, size, width))
        under += f'<g class="letters">{letters}</g>'
        bottom = low + 0.22 * size
    # Below the words nothing is drawn; the engraver's own box still counts room for its own.
    height = bottom - system.top
    # A long melisma may fill a whole line, with no new syllable in it.
    label = escape(spoken or "the last syllable goes on")
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="0 {system.top:.0f} {width:.0f} {height:.0f}" class="system" '
        f'font-family="\'{FONT}\', serif" fill="currentColor" role="img" aria-label="{label}">'
        f'<defs>{glyphs}</defs><g class="staves">{body}</g>{under}{over}</svg>'
    )
    return Drawing(svg, spoken, width, height)


def _spoken(events: Sequence[Event]) -> str:
    """The words of a system, undivided."""
    out = ""
    for event in events:
        if event.first:
            gap = " " if out and event.begins_word else ""
            out += gap + event.syllable.text
    return out
