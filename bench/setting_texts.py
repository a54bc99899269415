"""The words that the setting figures are taken over: psalms, and hymn texts of our own."""

from __future__ import annotations

from functools import cache

from chantwright.score import Hymn, Phrase
from chantwright.words import divide, psalm

PSALMS = (
    "141:1-2", "34:1-3", "51:1-3", "98:1-3", "103:1-3", "130:1-4", "104:33-35", "24:7-9",
    "47:1-2", "121:1-3", "19:1-3", "23:1-3", "1:1-3", "2:1-4", "8:3-5", "15:1-2",
    "27:1-2", "29:1-3", "33:1-4", "42:1-3", "46:1-3", "63:1-4", "65:1-3", "67:1-4",
    "84:1-3", "90:1-3", "91:1-4", "93:1-4", "95:1-4", "96:1-4", "100:1-4", "118:1-4",
    "126:1-3", "136:1-5", "139:1-4", "143:1-3", "148:1-4", "150:1-4",
)  # fmt: skip

OURS = (
    "Today the city wakes before the sun; the watchmen lift their voice in song: Arise, for the "
    "King is at the door, and all the bells of heaven ring.",
    "O lamp that never fails in the house of the poor, shine on us who sit in shadow, and teach "
    "our feet the way of peace.",
    "The river turned and fled at thy coming, O Lord; the hills rejoiced, and the deep gave up "
    "its dead.",
    "Mother of the Light, hope of those who call on thee at evening, gather thy scattered "
    "children home.",
    "He stretched his hands upon the tree, and the sun hid its face; he slept in the rock, and "
    "the earth shook for fear; he rose on the third day, and all things are made new.",
    "Come, let us keep the feast of the holy martyrs, who poured out their blood like water, "
    "and feared neither fire nor sword.",
    "Bread of the hungry, staff of the weary, physician of the broken in heart: visit us and "
    "heal us.",
    "Blessed art thou, O Lord; teach me, for I am a child and know not how to go out or come in. "
    "Alleluia.",
)


@cache
def texts() -> tuple[tuple[str, Hymn], ...]:
    """Name and divided words of every text."""
    found = [(f"Psalm {ref}", " ".join(psalm(ref).verses)) for ref in PSALMS]
    found += [(f"ours {n}", text) for n, text in enumerate(OURS, start=1)]
    return tuple((name, divide(Hymn(phrases=(Phrase(text=text),)))) for name, text in found)
