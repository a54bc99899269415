"""A singer made of formulas, whose every pitch is known: the ear is measured on what it sings.

It shares no code and no tables with the program. Harmonics of a wandering fundamental are weighted
by vowel resonances (Peterson & Barney 1952, Table II, men; rounded, other voices scaled), noise
makes breath and consonants. Scoops, glides, vibrato, jitter, shimmer, drift, a room, pink noise and
a drone can be laid on top. It is no human voice: what is measured on it is an upper bound.

Conventions
-----------
Notes are (moria above the base or None for a rest, seconds, syllable). An empty syllable goes on
with the vowel before it (a melisma). The vowel begins on the note's own time; the consonants before
it take their time from the note before, as singers are taught. True pitch is the mean frequency
over a 25 ms window around each frame (every 10 ms), jitter of single cycles included; ``nan`` where
the voice does not sound.

Scales are written out from the table of the Patriarchal Musical Committee (Constantinople 1881),
in moria, upward from the note named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, fftconvolve, sosfilt, sosfiltfilt

Array = npt.NDArray[np.float64]

SCALES: dict[str, tuple[int, ...]] = {
    "diatonic": (12, 10, 8, 12, 12, 10, 8),  # from ni
    "soft chromatic": (8, 14, 8, 12, 8, 14, 8),  # from ni
    "hard chromatic": (6, 20, 4, 12, 6, 20, 4),  # from pa
    "enharmonic": (12, 12, 6, 12, 12, 12, 6),  # from ga
}
FRAME = 0.01
CONTROL = 0.005

VOWELS: dict[str, tuple[float, float, float]] = {
    "i": (270, 2290, 3010),
    "e": (530, 1840, 2480),
    "a": (730, 1090, 2440),
    "o": (570, 840, 2410),
    "u": (300, 870, 2240),
}
WIDTHS = (60.0, 90.0, 140.0, 220.0, 300.0)
NASALS = {"m": (250.0, 1000.0, 2200.0), "n": (250.0, 1400.0, 2500.0)}
GLIDES = {
    "l": (360.0, 1200.0, 2700.0),
    "r": (330.0, 1100.0, 1600.0),
    "w": (290.0, 700.0, 2200.0),
    "y": (270.0, 2200.0, 3000.0),
}
HISSES = {
    "s": (4200.0, 7600.0, 0.22),
    "f": (1500.0, 7600.0, 0.07),
    "h": (500.0, 4500.0, 0.09),
    "z": (4200.0, 7600.0, 0.12),
    "v": (1500.0, 7600.0, 0.05),
}
BUZZED = ("z", "v")  # hiss and voice at once
STOPS = ("p", "t", "k", "b", "d", "g")
RINGING = ("b", "d", "g")  # stops with a faint voice behind closed lips


@dataclass(frozen=True)
class Voice:
    """A body: how far its resonances lie above a man's, how steep its source, how breathy."""

    stretch: float = 1.0
    tilt: float = 1.3
    breath: float = 0.02
    fold: float = 0.0


VOICES: dict[str, tuple[Voice, float]] = {
    "bass": (Voice(0.95, 1.25), 95.0),
    "tenor": (Voice(1.0, 1.3), 160.0),
    "alto": (Voice(1.15, 1.45), 240.0),
    "child": (Voice(1.3, 1.5), 380.0),
}
"""A voice and the base it sings on, Hz."""


@dataclass(frozen=True)
class Manner:
    """How it is sung. Cents and moria; seconds; chances are 0 to 1."""

    sigma: float = 0.0  # moria, per note
    drift: float = 0.0  # moria a minute
    drift_from: float = 0.0  # seconds before which there is no drift
    vibrato: float = 15.0  # cents to either side
    vibrato_rate: float = 5.4
    scoops: float = 0.3
    scoop_depth: float = 90.0
    glide: float = 0.09
    wander: float = 4.0  # cents, slower than 3 Hz
    jitter: float = 0.003  # of a cycle's length
    shimmer: float = 0.03
    timing: float = 0.0  # of a note's length
    bend: tuple[tuple[float, float], ...] = ()  # moria asked for -> moria added


@dataclass(frozen=True)
class Drone:
    """A held note beside the singer: moria from the base, dB beside the voice, wobble in cents."""

    moria: float = -42.0
    level: float = -12.0
    wobble: float = 0.0
    breathes: bool = False


@dataclass(frozen=True)
class Scene:
    """Where it is sung: signal to noise in dB, reverberation, a drone, silence around it."""

    snr: float | None = 30.0
    room: float | None = None  # seconds to die away by 60 dB
    direct: float = 8.0  # dB of direct sound over reverberation
    drone: Drone | None = None
    lead: float = 0.4
    tail: float = 0.4
    peak: float = 0.5


@dataclass(frozen=True)
class Sung:
    """What was really sung: vowel's start and end in seconds, Hz and moria in its middle."""

    start: float
    end: float
    moria: float
    hz: float
    syllable: str
    asked: float
    onset: float = 0.0  # where the consonants begin


@dataclass(frozen=True)
class Take:
    """A recording and the truth about it."""

    samples: npt.NDArray[np.float32]
    rate: int
    f0: Array
    notes: tuple[Sung, ...]
    base: float
    drone_hz: float | None = None

    @property
    def times(self) -> Array:
        return np.asarray(FRAME * np.arange(self.f0.size))


def places(scale: str, lowest: int, highest: int, start: int = 0) -> dict[int, float]:
    """Moria of degrees `lowest` to `highest` above the scale's first note (its degree `start`)."""
    steps = SCALES[scale]
    out: dict[int, float] = {}
    for degree in range(lowest, highest + 1):
        turns, within = divmod(degree - start, 7)
        out[degree] = float(72 * turns + sum(steps[:within]))
    return out


def melody(
    seed: int, count: int, scale: Sequence[float], syllables: Sequence[str] = ()
) -> list[tuple[float | None, float, str]]:
    """A wandering tune on `scale` (moria): mostly steps, some repeats, closing on its first."""
    rng = np.random.default_rng(seed)
    names = syllables or ("ma", "se", "to", "li", "a", "no", "di", "pu", "fe", "ra", "ke", "u")
    at = int(rng.integers(0, len(scale)))
    out: list[tuple[float | None, float, str]] = []
    for i in range(count):
        move = int(rng.choice([-2, -1, 0, 1, 2], p=[0.1, 0.27, 0.26, 0.27, 0.1]))
        at = at + move if 0 <= at + move < len(scale) else at - move
        at = 0 if i == count - 1 else at
        long = float(rng.choice([0.4, 0.8], p=[0.75, 0.25])) if i < count - 1 else 1.4
        out.append((scale[at], long * float(rng.uniform(0.95, 1.05)), str(rng.choice(names))))
    return out


@dataclass
class _Plan:
    """Control curves, one value each 5 ms."""

    count: int
    voice: Array = field(init=False)
    forms: Array = field(init=False)
    hiss: dict[str, Array] = field(default_factory=dict)
    bursts: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.voice = np.zeros(self.count)
        self.forms = np.tile(np.array([500.0, 1500.0, 2500.0])[:, None], (1, self.count))

    def span(self, start: float, end: float) -> slice:
        return slice(max(0, round(start / CONTROL)), max(0, round(end / CONTROL)))


def _parts(syllable: str) -> tuple[str, str, str]:
    """Consonants before, vowel, consonants after; letters the singer does not know fall away."""
    text = "".join(c for c in syllable.lower().replace("th", "f").replace("sh", "s") if c.isalpha())
    text = text.replace("c", "k").replace("q", "k").replace("x", "ks").replace("j", "d")
    at = next((i for i, c in enumerate(text) if c in VOWELS), None)
    if at is None:
        return "", "a", ""
    rest = text[at + 1 :].lstrip("aeiou")
    return text[:at][-2:], text[at], rest[:1]


def _length(sound: str) -> float:
    if sound in NASALS or sound in GLIDES:
        return 0.07
    if sound in HISSES:
        return 0.1
    return 0.065 if sound in STOPS else 0.0


def _consonant(plan: _Plan, sound: str, start: float, end: float) -> None:
    at = plan.span(start, end)
    if sound in NASALS:
        plan.voice[at], plan.forms[:, at] = 0.45, np.array(NASALS[sound])[:, None]
    elif sound in GLIDES:
        plan.voice[at], plan.forms[:, at] = 0.6, np.array(GLIDES[sound])[:, None]
    elif sound in HISSES:
        plan.voice[at] = 0.3 if sound in BUZZED else 0.0
        plan.hiss.setdefault(sound, np.zeros(plan.count))[at] = 1.0
    elif sound in STOPS:
        plan.voice[at] = 0.1 if sound in RINGING else 0.0
        plan.bursts.append(end - 0.012)


def _smooth(curve: Array, seconds: float) -> Array:
    width = max(1, round(seconds / CONTROL))
    window = np.hanning(width + 2)[1:-1]
    padded = np.pad(curve, (width, width), mode="edge")
    return np.asarray(np.convolve(padded, window / window.sum(), mode="same")[width:-width])


def _pink(rng: np.random.Generator, count: int, rate: int) -> Array:
    spectrum = np.fft.rfft(rng.normal(size=count))
    freq = np.fft.rfftfreq(count, 1 / rate)
    out = np.fft.irfft(spectrum / np.sqrt(np.maximum(freq, 20.0)), count)
    return np.asarray(out / np.sqrt(np.mean(out**2)))


def _slow(rng: np.random.Generator, count: int, step: float, below: float) -> Array:
    """Noise of unit size without anything faster than `below` Hz."""
    extra = int(4 / below / step)
    sos = butter(2, min(0.9, below * 2 * step), output="sos")
    out = sosfiltfilt(sos, rng.normal(size=count + 2 * extra))[extra : extra + count]
    return np.asarray(out / max(1e-12, float(np.std(out))))


def _harmonics(phase: Array, hz: Array, gains: Array, grid: Array, at: Array, rate: int) -> Array:
    """Sum of harmonics: `gains` (harmonics, control frames) at `grid` seconds."""
    out = np.zeros(phase.size)
    for k in range(1, gains.shape[0] + 1):
        if not gains[k - 1].any():
            continue
        amp = np.interp(at, grid, gains[k - 1])
        amp[k * hz > 0.48 * rate] = 0.0
        out += amp * np.sin(k * phase)
    return out


def _resonance(freq: Array, forms: Array, voice: Voice) -> Array:
    """Gain of the vowel at each frequency, shape like `freq` (harmonics, frames)."""
    extra = [np.full(forms.shape[1], f * voice.stretch) for f in (3500.0, 4500.0)]
    gain = np.ones_like(freq)
    for form, width in zip([*(forms * voice.stretch), *extra], WIDTHS, strict=True):
        gain *= form**2 / np.hypot(form**2 - freq**2, freq * width)
    return gain


def _one(
    plan: _Plan, at: float, length: float, head: str, vowel: str, tail: str, last: bool
) -> tuple[float, float]:
    """Lay the sounds of one note; return where its consonants begin and where its vowel ends."""
    start = at - sum(_length(c) for c in head)
    reach = at + length - _length(tail) * (0.8 if length > 0.3 else 0.4)
    whole = plan.span(at, reach)
    plan.voice[whole] = 1.0
    plan.forms[:, whole] = np.array(VOWELS[vowel])[:, None]
    if tail:
        _consonant(plan, tail, reach, at + length)
    when = start
    for c in head:
        _consonant(plan, c, when, when + _length(c))
        when += _length(c)
    if last:  # the voice dies away
        fade = plan.span(max(at, at + length - 0.12), at + length)
        plan.voice[fade] *= np.linspace(1, 0, plan.voice[fade].size)
    return start, reach


def _lay(
    notes: Sequence[tuple[float | None, float, str]],
    base: float,
    manner: Manner,
    scene: Scene,
    rng: np.random.Generator,
) -> tuple[_Plan, Array, tuple[Sung, ...]]:
    """Control curves, cents above the base, and what is sung."""
    lengths = [s * float(np.clip(1 + manner.timing * rng.normal(), 0.5, 1.6)) for _, s, _ in notes]
    count = int((scene.lead + sum(lengths) + scene.tail) / CONTROL) + 1
    plan, cents = _Plan(count), np.full(count, np.nan)
    sung: list[Sung] = []
    at, vowel, kept = scene.lead, "a", ""
    resting = True
    for i, ((moria, _, syllable), length) in enumerate(zip(notes, lengths, strict=True)):
        if moria is not None:
            drift = manner.drift * max(0.0, at + length / 2 - manner.drift_from) / 60
            real = moria + dict(manner.bend).get(moria, 0.0) + manner.sigma * rng.normal() + drift
            head, tail = "", ""
            if syllable or resting:
                head, vowel, kept = _parts(syllable or "a")
            last = i + 1 == len(notes) or notes[i + 1][0] is None
            if last or notes[i + 1][2]:  # the consonants at the end wait for the last note
                tail, kept = kept, ""
            start, reach = _one(plan, at, length, head, vowel, tail, last)
            cents[plan.span(start if resting else (start + at) / 2, at + length + 0.1)] = (
                real * 1200 / 72
            )
            if (resting or head) and rng.random() < manner.scoops:
                here = plan.span(at, at + length)
                depth = manner.scoop_depth * rng.uniform(0.5, 1.5)
                cents[here] -= depth * np.exp(-np.arange(cents[here].size) * CONTROL / 0.06)
                cents[plan.span((start + at) / 2, at)] -= depth
            hz = base * 2 ** (real / 72)
            sung.append(Sung(at, reach, real, hz, syllable, float(moria), onset=start))
        resting = moria is None
        at += length
    grid, known = CONTROL * np.arange(count), np.isfinite(cents)
    cents = np.interp(grid, grid[known], cents[known]) if known.any() else np.zeros(count)
    age = np.zeros(count)
    for note in sung:
        span = plan.span(note.start, note.end)
        age[span] = np.clip((np.arange(age[span].size) * CONTROL - 0.15) / 0.3, 0, 1)
    speed = manner.vibrato_rate * (1 + 0.05 * _slow(rng, count, CONTROL, 1.0))
    cents = _smooth(cents, manner.glide) + manner.wander * _slow(rng, count, CONTROL, 3.0)
    cents += manner.vibrato * _smooth(age, 0.1) * np.sin(2 * np.pi * np.cumsum(speed) * CONTROL)
    return plan, cents, tuple(sung)


def _sound(
    plan: _Plan,
    cents: Array,
    base: float,
    body: Voice,
    manner: Manner,
    rng: np.random.Generator,
    rate: int,
    count: int,
) -> tuple[Array, Array]:
    """The voice alone, at unit level where it sounds, and its true pitch per frame."""
    grid: Array = np.asarray(CONTROL * np.arange(plan.count))
    at: Array = np.asarray(np.arange(count) / rate)
    slow = base * 2 ** (cents / 1200)
    hz = np.interp(at, grid, slow)
    cycle = np.floor(np.cumsum(hz) / rate).astype(int)
    hz = hz * (1 + manner.jitter * rng.normal(size=cycle[-1] + 2))[cycle]
    loud = _smooth(plan.voice, 0.03)
    forms = np.stack([_smooth(f, 0.05) for f in plan.forms])
    top = int(0.48 * rate / slow[loud > 0].min()) if (loud > 0).any() else 1
    k = np.arange(1, top + 1)[:, None]
    source = k ** (-body.tilt) * np.sqrt(
        np.clip(1 + 0.3 * _slow(rng, plan.count, CONTROL, 2.0), 0.1, 3)
    )
    gains = source * _resonance(k * slow, forms, body) * loud
    sound = _harmonics(2 * np.pi * np.cumsum(hz) / rate, hz, gains, grid, at, rate)
    if body.fold:  # every second cycle weaker: a rough voice
        sound *= 1 - body.fold * (cycle % 2)
    sound *= (1 + manner.shimmer * rng.normal(size=cycle[-1] + 2))[cycle]
    full = np.interp(at, grid, loud)
    sound /= float(np.sqrt(np.mean(sound[full > 0.5] ** 2))) if (full > 0.5).any() else 1.0
    sound += body.breath * full * _band(rng, count, 400, 5000, rate)
    for kind, curve in plan.hiss.items():
        low, high, gain = HISSES[kind]
        sound += (
            gain * np.interp(at, grid, _smooth(curve, 0.02)) * _band(rng, count, low, high, rate)
        )
    for burst in plan.bursts:
        a = max(0, int(burst * rate))
        size = min(int(0.012 * rate), count - a)
        sound[a : a + size] += (
            0.25 * rng.normal(size=size) * np.exp(-np.arange(size) / (0.003 * rate))
        )
    return sound, _truth(hz, full, rate)


def _band(rng: np.random.Generator, count: int, low: float, high: float, rate: int) -> Array:
    """Noise of unit level between two frequencies."""
    sos = butter(2, [low, min(high, 0.48 * rate)], "bandpass", fs=rate, output="sos")
    noise = sosfilt(sos, rng.normal(size=count))
    return np.asarray(noise / np.std(noise))


def sing(
    notes: Sequence[tuple[float | None, float, str]],
    base: float,
    *,
    seed: int,
    voice: Voice | str = "tenor",
    manner: Manner | None = None,
    scene: Scene | None = None,
    rate: int = 16_000,
) -> Take:
    """Sing notes of (moria above the base or None, seconds, syllable); tell the truth about it."""
    manner, scene = manner or Manner(), scene or Scene()
    body = VOICES[voice][0] if isinstance(voice, str) else voice
    rng = np.random.default_rng(seed)
    plan, cents, sung = _lay(notes, base, manner, scene, rng)
    count = int((plan.count - 1) * CONTROL * rate)
    sound, truth = _sound(plan, cents, base, body, manner, rng, rate, count)
    drone_hz = None
    if scene.drone is not None:
        held = scene.drone
        drone_hz = base * 2 ** (held.moria / 72)
        sound += (
            10 ** (held.level / 20)
            * drone(
                drone_hz,
                count / rate,
                seed=seed + 7,
                wobble=held.wobble,
                breathes=held.breathes,
                rate=rate,
            )[:count]
        )
    if scene.room:
        sound = reverberate(sound, scene.room, scene.direct, rng, rate)
    if scene.snr is not None:
        sound += 10 ** (-scene.snr / 20) * _pink(rng, count, rate)
    sound *= scene.peak / max(1e-9, float(np.max(np.abs(sound))))
    return Take(sound.astype(np.float32), rate, truth, sung, base, drone_hz)


def _truth(hz: Array, full: Array, rate: int) -> Array:
    """Mean frequency over 25 ms around each frame where the voice sounds."""
    window = np.hanning(int(0.025 * rate) | 1)
    mean = fftconvolve(np.pad(hz, window.size // 2, mode="edge"), window / window.sum(), "valid")
    centres = np.round(np.arange(int(hz.size / rate / FRAME)) * FRAME * rate).astype(int)
    centres = np.minimum(centres, hz.size - 1)
    return np.where(full[centres] > 0.2, mean[centres], np.nan)


def drone(
    hz: float,
    seconds: float,
    *,
    seed: int,
    wobble: float = 0.0,
    breathes: bool = False,
    rate: int = 16_000,
) -> Array:
    """A held note of unit level; `wobble` in cents makes it a human's."""
    rng = np.random.default_rng(seed)
    count = int(seconds * rate) + 1
    step, grid = CONTROL, CONTROL * np.arange(int(seconds / CONTROL) + 2)
    cents = 0.8 * _slow(rng, grid.size, step, 1.0) + 0.6 * _slow(rng, grid.size, step, 6.0)
    at = np.arange(count) / rate
    now = hz * 2 ** (wobble * np.interp(at, grid, cents) / 1200)
    phase = 2 * np.pi * np.cumsum(now) / rate
    out = np.zeros(count)
    for k in range(1, int(min(16, 0.45 * rate / hz)) + 1):
        strength = 1.0 + (0.15 * _slow(rng, grid.size, step, 1.0) if wobble else 0.0)
        out += (
            np.interp(at, grid, np.broadcast_to(strength, grid.shape))
            * k**-1.1
            * np.sin(k * phase + rng.uniform(0, 2 * np.pi))
        )
    out /= np.sqrt(np.mean(out**2))
    if breathes:
        for start in np.arange(rng.uniform(3, 7), seconds, rng.uniform(6, 9)):
            a, b = int(start * rate), int((start + 0.5) * rate)
            out[a:b] *= np.abs(np.linspace(-1, 1, out[a:b].size)) ** 2
    return out


def reverberate(
    sound: Array, decay: float, direct: float, rng: np.random.Generator, rate: int
) -> Array:
    """Lay a synthetic room over a sound: noise dying away by 60 dB in `decay` seconds."""
    size = int(decay * rate)
    tail = rng.normal(size=size) * 10 ** (-3 * np.arange(size) / size)
    tail[: int(0.004 * rate)] = 0.0
    tail *= 10 ** (-direct / 20) / np.sqrt(np.sum(tail**2))
    return np.asarray(sound + fftconvolve(sound, tail)[: sound.size])


def speech(seed: int, seconds: float, base: float = 120.0, *, scene: Scene | None = None) -> Take:
    """Somebody talking: short syllables on a pitch that never rests."""
    rng = np.random.default_rng(seed)
    notes: list[tuple[float | None, float, str]] = []
    sounds = ("ma", "te", "so", "li", "na", "ke", "fu", "ra", "di", "pes", "han")
    fall = 20.0
    while sum(n[1] for n in notes) < seconds:
        fall = fall - rng.uniform(1, 6) if fall > -15 else rng.uniform(10, 30)
        notes.append(
            (fall + rng.normal() * 4, float(rng.uniform(0.1, 0.26)), str(rng.choice(sounds)))
        )
        if rng.random() < 0.12:
            notes.append((None, float(rng.uniform(0.2, 0.6)), ""))
    manner = Manner(vibrato=0, wander=25.0, scoops=0.6, scoop_depth=150, glide=0.2, jitter=0.006)
    return sing(notes, base, seed=seed, manner=manner, scene=scene)


def breath(seed: int, seconds: float, rate: int = 16_000) -> npt.NDArray[np.float32]:
    """Somebody breathing near the microphone, and a page being turned."""
    rng = np.random.default_rng(seed)
    count = int(seconds * rate)
    sos = butter(2, [300, 4000], "bandpass", fs=rate, output="sos")
    air = sosfilt(sos, rng.normal(size=count))
    swell = np.clip(np.sin(2 * np.pi * np.arange(count) / rate / 2.5), 0, 1) ** 2
    return np.asarray(0.1 * air * swell + 0.002 * _pink(rng, count, rate), dtype=np.float32)


ENDS: dict[str, tuple[tuple[int, int, int], ...]] = {
    "diatonic": ((0, -1, 6), (1, 0, 6), (2, 1, 7), (1, -1, 5)),
    "soft chromatic": ((4, 1, 7),),
    "hard chromatic": ((1, 0, 7),),
    "enharmonic": ((3, 1, 8),),
}
"""Family -> degrees (ni = 0) of a last note, and of the lowest and highest note about it."""
FIRST = {"diatonic": 0, "soft chromatic": 0, "hard chromatic": 1, "enharmonic": 3}
"""Degree from which each scale above is written."""


def free_tune(
    family: str,
    seed: int,
    *,
    seconds: float = 40.0,
    sigma: float = 1.2,
    stand_off: float = 0.7,
    drift: float = 0.0,
    snr: float = 25.0,
) -> Take:
    """Free singing in a family, each degree off its table by `stand_off` moria for good."""
    rng = np.random.default_rng(seed)
    final, low, high = ENDS[family][seed % len(ENDS[family])]
    ladder = places(family, low, high, FIRST[family])
    off = rng.normal(size=7) * stand_off

    def at(degree: int) -> float:
        return ladder[degree] - ladder[final] + float(off[degree % 7])

    degree, length = int(rng.integers(low, high)), 0.0
    notes: list[tuple[float | None, float, str]] = []
    while length < seconds:
        move = int(rng.choice([-2, -1, 0, 1, 2], p=[0.1, 0.28, 0.24, 0.28, 0.1]))
        degree = int(np.clip(degree + move, low, high))
        own = float(rng.choice([0.35, 0.5, 0.8], p=[0.5, 0.3, 0.2]))
        notes.append((at(degree), own, str(rng.choice(["ma", "se", "to", "li", "a", "no"]))))
        length += own
        if len(notes) % 16 == 15:
            notes.append((None, 0.4, ""))
            length += 0.4
    while degree != final:
        degree += 1 if final > degree else -1
        notes.append((at(degree), 0.4, "na"))
    notes.append((at(final), 1.5, "na"))
    voice = list(VOICES)[seed % 4]
    return sing(
        notes,
        VOICES[voice][1],
        seed=seed,
        voice=voice,
        manner=Manner(sigma=sigma, drift=drift, timing=0.1),
        scene=Scene(snr=snr),
    )
