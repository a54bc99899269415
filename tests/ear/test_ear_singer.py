"""The singer that measures the ear: is its own truth true?"""

import numpy as np
from singer import SCALES, Drone, Manner, Scene, breath, melody, places, sing, speech


def test_scales_close_on_the_octave() -> None:
    # Patriarchal Musical Committee 1881: 72 moria in every one of these
    assert all(sum(steps) == 72 for steps in SCALES.values())
    assert places("hard chromatic", -1, 3, 0) == {-1: -4.0, 0: 0.0, 1: 6.0, 2: 26.0, 3: 30.0}


def test_the_pitch_it_tells_is_the_pitch_of_its_samples() -> None:
    """Zero crossings of the lowest partial count the same cycles as the truth."""
    take = sing(
        [(0.0, 4.0, "u")],
        200.0,
        seed=3,
        manner=Manner(scoops=0, vibrato=0, wander=0, jitter=0, shimmer=0),
        scene=Scene(snr=None),
    )
    middle = take.samples[16_000:48_000].astype(float)
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(middle.size), 16 * middle.size))
    low = spectrum[: int(300 * 16 * middle.size / 16_000)]
    assert abs(np.argmax(low) / 16 / middle.size * 16_000 - 200.0) < 0.05
    assert np.nanmax(np.abs(1200 * np.log2(take.f0[100:300] / 200.0))) < 0.5


def test_notes_stand_where_they_were_asked() -> None:
    take = sing(
        [(0.0, 0.5, "ma"), (None, 0.5, ""), (12.0, 0.5, "so"), (12.0, 0.5, "")], 200.0, seed=1
    )
    assert [round(n.start, 2) for n in take.notes] == [0.4, 1.4, 1.9]
    assert take.notes[0].onset < take.notes[0].start
    voiced = np.isfinite(take.f0)
    assert not voiced[95:130].any() and voiced[50:80].all()


def test_the_rest_of_its_company_makes_sound() -> None:
    tune = melody(1, 12, list(places("diatonic", 0, 4).values()))
    take = sing(tune, 160.0, seed=2, scene=Scene(snr=20, room=0.5, drone=Drone(-42, -12, 6, True)))
    assert take.samples.dtype == np.float32 and 0.4 < np.abs(take.samples).max() <= 0.5001
    assert np.isfinite(speech(1, 5.0).f0).mean() > 0.3
    assert breath(1, 2.0).std() > 0.01
