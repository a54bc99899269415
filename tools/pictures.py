"""Make the pictures of the README from a finished demonstration: `python tools/pictures.py demo`.

A booklet page (through pypdfium2), a line of the staff (the tool's own SVG), and the pitch of a
recording, measured by an independent tracker (WORLD's harvest), over the tone's own notes drawn to
their true size in moria.
"""

from __future__ import annotations

import html
import math
import sys
from pathlib import Path

import numpy as np
import pypdfium2
import pyworld

from chantwright.engrave import Handout, StaffOptions, handout_pdf, systems
from chantwright.score import Hymn, hymnfile
from chantwright.tones import Tones, load_tones
from chantwright.tuning import degree_name
from chantwright.voice import TrackOptions, sing

PAGE, HYMN, SECONDS = 9, "*night-was-leaning*", 10.0
WIDTH, MORION, LEFT = 960, 5.0, 70
LOST = 12.0  # moria from any note of the tone's where the tracker has lost the voice
PAPER, INK, SOFT, RED = "#fbf8f1", "#22201c", "#b9ae9c", "#9d2a1c"


def page_picture(pdf: Path, target: Path) -> None:
    """One page of the booklet."""
    document = pypdfium2.PdfDocument(str(pdf))
    image = document[PAGE].render(scale=1.3).to_pil()
    image.quantize(256).save(target, optimize=True)


def handout_picture(hymn: Hymn, tones: Tones, target: Path) -> None:
    """A handout of the hymn's tone."""
    document = pypdfium2.PdfDocument(handout_pdf(Handout(hymn), tones))
    image = document[0].render(scale=1.0).to_pil()
    image.quantize(64).save(target, optimize=True)


def recording_picture(hymn: Hymn, tones: Tones, target: Path) -> None:
    """Measured pitch over the scale's ladder."""
    if hymn.branch is None or hymn.base is None:
        raise SystemExit("the hymn is not set")
    scale = tones.scales[tones.branch(hymn.branch).scale]
    track = sing(hymn, tones, TrackOptions(mode="melody", intonation="none", count_in=0))
    samples = track.samples[: int(SECONDS * track.rate)].astype(np.float64)
    f0, times = pyworld.harvest(samples, track.rate, f0_floor=70, f0_ceil=500, frame_period=5)
    origin = float(scale.moria(hymn.base.degree))

    def moria(hz: float) -> float:
        return origin + 72 * math.log2(hz / hymn.base.hz) if hymn.base else 0.0

    sung = [n for n in track.timing.notes if n.start < SECONDS]
    degrees = range(min(n.degree for n in sung) - 1, max(n.degree for n in sung) + 2)
    top = float(scale.moria(degrees[-1])) + 3
    height = (top - float(scale.moria(degrees[0])) + 12) * MORION
    scale_x = (WIDTH - LEFT - 15) / SECONDS

    def x(seconds: float) -> float:
        return LEFT + seconds * scale_x

    def y(place: float) -> float:
        return (top - place) * MORION + 10

    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" '
        f'font-family="Georgia, serif" font-size="15">',
        f'<rect width="100%" height="100%" fill="{PAPER}"/>',
    ]
    for degree in degrees:
        place = y(float(scale.moria(degree)))
        out.append(
            f'<line x1="{LEFT}" x2="{WIDTH - 10}" y1="{place:.1f}" y2="{place:.1f}" '
            f'stroke="{SOFT}"/><text x="{LEFT - 10}" y="{place + 5:.1f}" text-anchor="end" '
            f'fill="{INK}">{degree_name(degree).capitalize()}</text>'
        )
    run: list[str] = []
    # A tracker is lost in consonants: only the inside of each note is drawn.
    held = [(n.start + 0.06, n.stop - 0.13, float(scale.moria(n.degree))) for n in sung]
    for hz, seconds in [*zip(f0, times, strict=True), (0.0, 0.0)]:
        if hz > 0 and any(a <= seconds <= b and abs(moria(hz) - at) < LOST for a, b, at in held):
            run.append(f"{x(seconds):.1f},{y(moria(hz)):.1f}")
        elif run:
            out.append(
                f'<polyline points="{" ".join(run)}" fill="none" stroke="{RED}" '
                'stroke-width="2.5" stroke-linejoin="round"/>'
            )
            run = []
    for syllable in (s for s in track.timing.syllables if s.start < SECONDS):
        out.append(
            f'<text x="{x(syllable.start):.1f}" y="{height - 12:.0f}" fill="{INK}">'
            f"{html.escape(syllable.text)}</text>"
        )
    target.write_text("\n".join([*out, "</svg>"]), encoding="utf-8")


def main() -> None:
    """Make all pictures."""
    demo = Path(sys.argv[1] if len(sys.argv) > 1 else "demo")
    pictures = Path(__file__).resolve().parents[1] / "docs" / "pictures"
    pictures.mkdir(exist_ok=True)
    tones = load_tones()
    hymn = hymnfile.read(next((demo / "hymns").glob(HYMN + ".txt")))
    page_picture(demo / "booklet.pdf", pictures / "booklet-page.png")
    (pictures / "staff-line.svg").write_text(
        systems(hymn, tones, StaffOptions())[0], encoding="utf-8"
    )
    handout_picture(hymn, tones, pictures / "handout.png")
    recording_picture(hymn, tones, pictures / "recording.svg")


if __name__ == "__main__":
    main()
