from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import soundfile

from chantwright.voice.cover import with_own_serial


def opus(frequency: float) -> bytes:
    samples = 0.2 * np.sin(2 * np.pi * frequency * np.arange(48_000) / 48_000)
    out = io.BytesIO()
    soundfile.write(out, samples, 48_000, format="OGG", subtype="OPUS")
    return out.getvalue()


def test_the_same_sound_made_twice_is_the_same_file(tmp_path: Path) -> None:
    raw = opus(220), opus(220)
    assert raw[0] != raw[1]  # else the encoder draws no numbers any more and this is not needed
    one, two, other = (with_own_serial(d) for d in (*raw, opus(330)))
    assert one == two
    assert one[14:18] != other[14:18]
    assert with_own_serial(one) == one
    # libsndfile (its libogg drops pages whose checksum is wrong) reads the same sound as before.
    before, _ = soundfile.read(io.BytesIO(raw[0]))
    after, _ = soundfile.read(io.BytesIO(one))
    assert np.array_equal(before, after)
    broken = bytearray(one)
    broken[-40] ^= 1
    assert len(soundfile.read(io.BytesIO(bytes(broken)))[0]) < len(after)
