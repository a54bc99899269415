"""A guess at a word that no list and no rule knows.

The code of a word (see `lexicon`) from its spelling alone. Everything read this way is marked
``guess`` so that the teacher looks at it.
"""

from __future__ import annotations

import re

__all__ = ["code"]

_SILENT_END = re.compile(r"(?<=[^aeiouy])e$|(?<=[^aeiouytd])es$|(?<=[^aeiouytd])ed$")
_GROUP = re.compile(
    r"(?<=q)u(?=[aeiou])|(?<=[tscx])i(?=o(?:n|us)|a(?:l|n)|e(?:nt|nce))"  # silent partners
    r"|eau|igh|eigh|augh|ough|i(?=[aou])|(?<![aeiou])y(?=[aeiou])|u(?=a|ou)|e(?=ou|u[sm]|a[sh]|o)"
    r"|[aeo][iuy]|ee|oo|oa|ea|ie|[ei]w|ow|aw|[aeiouy]"
)


def code(word: str, *, stressed: bool = True) -> str:
    """Guess the code of a lower-case word.

    Parameters
    ----------
    word : str
        Letters, apostrophes.
    stressed : bool
        Whether to give it a primary stress; endings and prefixes have none.

    Returns
    -------
    str
        One sign for each letter; at least one vowel sign.
    """
    signs = ["."] * len(word)
    silent = _SILENT_END.search(word)
    stop = silent.start() if silent and re.search("[aeiouy]", word[: silent.start()]) else len(word)
    if word.endswith(("le", "les", "led")) and len(word) > 3 and re.search(r"[^aeiouyl]le", word):
        stop = len(word)
    starts = []
    for found in _GROUP.finditer(word):
        at, letters = found.start(), found[0]
        if at >= stop:
            break
        if letters == "u" and word[at - 1 : at] == "q":
            continue
        partner = letters == "i" and at > 0 and word[at - 1] in "tscx"
        if partner and re.match(r"i(?:o(?:n|us)|al|an|ent|ence)", word[at:]):
            continue
        if letters == "y" and re.match(r"y[aeiou]", word[at:]) and (at == 0):
            continue
        starts.append(at)
        for k in range(at + 1, found.end()):
            signs[k] = "+"
        signs[at] = "0"
    if not starts:
        at = next((i for i, c in enumerate(word) if c in "aeiouyw"), 0)
        starts, signs[at] = [at], "0"
    if stressed:
        signs[_stressed(word, starts)] = "1"
    return "".join(signs)


def _stressed(word: str, starts: list[int]) -> int:
    count = len(starts)
    if count <= 2:
        return starts[0]
    if re.search(r"(?:[tsc]ion|ic|ial|ian|ious|eous)s?$", word):
        return starts[-2]
    return starts[-2] if count == 3 and word[-1] in "aoh" else starts[-3]
