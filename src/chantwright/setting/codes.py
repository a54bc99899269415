"""What the words ask of each syllable: the stresses as codes (`chantwright.setting.line`)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

__all__ = ["codes_of"]


def codes_of(
    stress: Sequence[int], words: Sequence[str] = (), light: Iterable[str] = ()
) -> tuple[int, ...]:
    """Turn stresses into codes.

    Parameters
    ----------
    stress : sequence of int
        0, 1 or 2 for each syllable.
    words : sequence of str
        Text of each syllable; a whole word that is light is never raised to a stress.
    light : iterable of str
        The light words.

    Returns
    -------
    tuple of int
        0 weak, 1 primary, 2 secondary, 3 weak but free to be raised. A phrase without any stress
        gets one, on its last syllable or on the last but two.
    """
    codes = list(stress)
    if not any(codes):
        codes[-1 if len(codes) < 3 else -3] = 1
    small = set(light)
    count = len(codes)
    bare = [w.strip(".,;:!?()'’\"“”").lower() for w in words] or [""] * count
    run = 0
    for place in range(1, count - 1):
        near = codes[place - 1 : place + 2]
        run = 0 if any(c in (1, 2) for c in near) else run + 1
        # in a very long run only every third may be raised: more choice would help nobody
        if run and (run <= 4 or run % 3 == 0) and bare[place] not in small:
            codes[place] = 3
    return tuple(codes)
