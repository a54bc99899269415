"""Which syllable sounds: vowels told apart in this singer's own voice, learned from the take.

Conventions
-----------
Syllables whose vowel is spelled alike are taken to sound alike. After a first alignment the middle
of every sung syllable teaches what its spelling sounds like in this voice; from then on each frame
says how well it suits each note, in nats above or below the average vowel. Where spelling tells
nothing of the sound, all spellings look alike and the scores are near nothing by themselves.

References
----------
Fisher, Ann. Eugenics 7 (1936): classes by their means and one common scatter.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from chantwright.ear.decode import FRAME, Span
from chantwright.ear.expected import Expected

__all__ = ["spelling", "vowel_scores"]

Array = npt.NDArray[np.float64]

_VOWELS = "aeiouyαεηιουωάέήίόύώ"
_SKIP, _LONG = 0.04, 0.25  # seconds of a vowel that teach: from, and for how long at most
_FEW = 2.0  # syllables that the average vowel counts for in each spelling's mean
_BOUND = 1.5  # nats a frame


def spelling(text: str) -> str:
    """The vowel of a syllable as it is spelled: its first letter, or nothing.

    Examples
    --------
    >>> spelling("Lord"), spelling("-vel"), spelling("who")
    ('o', 'e', 'o')
    """
    return next((c for c in text.casefold() if c in _VOWELS), "")


def _keys(expected: Expected) -> list[str]:
    """Spelling of the vowel under every note."""
    out: list[str] = []
    key = ""
    for note in expected.notes:
        if note.first:
            key = spelling(note.text)
        out.append(key)
    return out


def vowel_scores(sound: Array, spans: Sequence[Span], expected: Expected, frames: int) -> Array:
    """How well each frame suits the vowel of each note.

    Parameters
    ----------
    sound : ndarray, shape (contour frames, k)
        From `chantwright.ear.evidence`; 10 ms frames.
    spans : sequence of Span
        A first alignment.
    expected : Expected
        The hymn's line.
    frames : int
        Count of the aligner's frames.

    Returns
    -------
    ndarray, shape (frames, notes)
        Nats; zeros where nothing can be learned.
    """
    keys = _keys(expected)
    names = sorted({k for k in keys if k})
    nothing = np.zeros((frames, len(keys)))
    if not sound.shape[1] or len(names) < 2:
        return nothing
    step = round(FRAME / 0.01)
    means: list[Array] = []
    labels: list[int] = []
    for span in spans:
        if not keys[span.note]:
            continue
        first = span.start * step + round(_SKIP / 0.01)
        last = min(span.end * step, first + round(_LONG / 0.01), len(sound))
        if last - first >= 5:
            means.append(sound[first:last].mean(axis=0))
            labels.append(names.index(keys[span.note]))
    if len(means) < 2 * len(names):
        return nothing
    points, label = np.array(means), np.array(labels)
    middle = points.mean(axis=0)
    centres = np.empty((len(names), points.shape[1]))
    share = np.empty(len(names))
    for k in range(len(names)):
        mine = points[label == k]
        # The median of each coordinate: a first alignment may have named a few wrongly.
        centre = np.median(mine, axis=0) if len(mine) else middle
        share[k] = len(mine)
        centres[k] = (len(mine) * centre + _FEW * middle) / (len(mine) + _FEW)
    rest = points - centres[label]
    scatter = 1.4826 * np.median(np.abs(rest), axis=0)
    within = np.maximum(scatter**2, 0.05 * points.var(axis=0)) + 1e-6
    # Single frames scatter more than the means of syllables.
    size = sound[: frames * step].reshape(frames, step, -1).mean(axis=1)
    away = ((size[:, None, :] - centres[None]) ** 2 / (2.0 * within)).sum(axis=2) / 2.0
    prior = np.log((share + 1.0) / (share + 1.0).sum())
    top = (prior - away).max(axis=1, keepdims=True)
    average = top + np.log(np.exp(prior - away - top).sum(axis=1, keepdims=True))
    scores = np.clip(-away - average, -_BOUND, _BOUND)
    columns = np.array([names.index(k) if k else -1 for k in keys])
    out = np.where(columns[None, :] >= 0, scores[:, np.maximum(columns, 0)], 0.0)
    return np.asarray(out)
