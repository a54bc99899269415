"""Damage to files: bytes, lines, words, members of a zip; the same seed gives the same damage."""

from __future__ import annotations

import io
import random
import re
import struct
import warnings
import zipfile
from collections.abc import Callable, Sequence

NASTY = (
    "", " ", "\0", "\x1b[31m", "\ufeff", "\u202e", "\u2028", "\xa0", "\ud800", "\U0010ffff",
    "é" * 40, "e\u0301" * 200, "-1", "0", "1e400", "-0.0", "nan", "inf", "1/0", "9" * 40,
    "9" * 5000, "1_000", "٣", "½", "⅓", "0x10", "true", "null", "None", "[]", "{}", "[" * 3000,
    "(" * 400, '"', "'", '"""', "\\", "\\u0000", "<script>alert(1)</script>", "&lt;", "&#0;", "]]>",
    "<!--", "../../etc/passwd", "/dev/zero", "C:\\x", "con.txt", "=1+1", "@", "+", "%s%n", "{0}",
    "{{7*7}}", "${7}", "\r", "\r\n\r\n", "\t", "a" * 3000, "a " * 2000, "ab-" * 1000, "|" * 500,
    "2026-02-30", "0000-00-00", "9999-12-31", "10000-01-01", "24:00", "12:60", "ni", "zo__", "ke^9",
)  # fmt: skip
"""Words that have broken other programs."""

_LARGEST = 400_000


def of_bytes(data: bytes, draw: random.Random, others: Sequence[bytes] = ()) -> bytes:
    """Damage bytes a few times."""
    out = bytearray(data)
    for _ in range(draw.choice((1, 1, 1, 2, 3, 8, 40))):
        at = draw.randrange(len(out) + 1)
        end = min(len(out), at + draw.choice((1, 1, 2, 4, 16, 256, 4096)))
        match draw.randrange(9):
            case 0 if out:
                out[at % len(out)] ^= 1 << draw.randrange(8)
            case 1:
                out[at:end] = draw.randbytes(end - at)
            case 2:
                del out[at:end]
            case 3:
                out[at:at] = out[at:end] * draw.choice((1, 2, 50))
            case 4:
                out[at:end] = draw.choice((b"\x00", b"\xff", b"\x7f", b"\x80")) * (end - at)
            case 5:
                del out[at:]
            case 6 if others:
                other = draw.choice(others)
                cut = draw.randrange(len(other) + 1)
                out[at:end] = other[cut : cut + draw.choice((4, 64, 1024, 100_000))]
            case 7:
                out[at:at] = draw.choice(NASTY).encode("utf-8", "surrogatepass")
            case _:
                width = draw.choice((1, 2, 4, 8))
                value = draw.choice((0, 1, 2 ** (8 * width - 1) - 1, 2 ** (8 * width) - 1))
                out[at : at + width] = value.to_bytes(width, draw.choice(("little", "big")))
    return bytes(out[:_LARGEST])


def of_take(samples: Sequence[float], rate: int, draw: random.Random) -> bytes:
    """A whole WAV as odd recorders write it: other chunks, bent samples, bytes behind its end.

    Parameters
    ----------
    samples : sequence of float
        One channel, between -1 and 1.
    rate : int
        Samples a second.
    draw : random.Random
        Chooses the oddities.

    References
    ----------
    Multimedia Programming Interface 1.0 (IBM and Microsoft, 1991): readers pass over chunks they do
    not know; a chunk of odd length is followed by a byte.
    """
    width, channels = draw.choice(((2, 1), (2, 2), (3, 1)))
    top = 2 ** (8 * width - 1) - 1
    bent = [round(s * top * 0.9) for s in samples]
    for _ in range(draw.choice((0, 1, 20, 200))):  # clicks
        bent[draw.randrange(len(bent))] = draw.choice((0, top, -top - 1, draw.randint(-top, top)))
    if draw.random() < 0.3:
        del bent[-draw.randrange(1, rate // 4) :]
    data = b"".join(b.to_bytes(width, "little", signed=True) * channels for b in bent)
    form = struct.pack(
        "<HHIIHH", 1, channels, rate, rate * channels * width, channels * width, 8 * width
    )
    if draw.random() < 0.2:
        form += b"\0\0"  # a field that says how long the rest of it is: nothing

    def chunk(name: bytes, body: bytes) -> bytes:
        return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)

    def odd() -> bytes:
        names = (b"LIST", b"JUNK", b"bext", b"id3 ", b"fact", b"PAD ", b"iXML", b"zzzz")
        return chunk(draw.choice(names), draw.randbytes(draw.choice((4, 7, 30, 999))))

    before, between, after = (
        b"".join(odd() for _ in range(draw.choice((0, 0, 1, 3)))) for _ in range(3)
    )
    inside = b"WAVE" + before + chunk(b"fmt ", form) + between + chunk(b"data", data) + after
    return chunk(b"RIFF", inside) + draw.randbytes(draw.choice((0, 0, 1, 17, 4096)))


_WORD = re.compile(r"[^\W_]+|\s+|.", re.DOTALL)


def of_text(text: str, draw: random.Random, others: Sequence[str] = ()) -> str:
    """Damage a text by its words and lines a few times."""
    for _ in range(draw.choice((1, 1, 2, 3, 6, 20))):
        words = _WORD.findall(text)
        lines = text.split("\n")
        at = draw.randrange(len(words) + 1)
        row = draw.randrange(len(lines))
        match draw.randrange(9):
            case 0:
                words[at : at + 1] = [draw.choice(NASTY)]
                text = "".join(words)
            case 1:
                words[at:at] = [draw.choice(NASTY)]
                text = "".join(words)
            case 2:
                del words[at : at + draw.choice((1, 2, 10))]
                text = "".join(words)
            case 3:
                lines[row:row] = [lines[draw.randrange(len(lines))]] * draw.choice((1, 2, 200))
                text = "\n".join(lines)
            case 4:
                draw.shuffle(lines)
                text = "\n".join(lines)
            case 5 if words and at < len(words):
                words[at] = draw.choice(words)
                text = "".join(words)
            case 6 if others:
                theirs = draw.choice(others).split("\n")
                cut = draw.randrange(len(theirs))
                lines[row : row + 1] = theirs[cut : cut + draw.choice((1, 3, 20))]
                text = "\n".join(lines)
            case 7:
                del lines[row]
                text = "\n".join(lines)
            case _:
                text = text[: draw.randrange(len(text) + 1)]
        text = text[:_LARGEST]
    return text


def of_file(data: bytes, draw: random.Random, others: Sequence[bytes] = ()) -> bytes:
    """Damage a file that is text: as words mostly, as bytes now and then."""
    if draw.random() < 0.3:
        return of_bytes(data, draw, others)
    texts = [o.decode("utf-8", "replace") for o in others]
    text = of_text(data.decode("utf-8", "replace"), draw, texts)
    coding = draw.choice(("utf-8", "utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252", "cp1253"))
    return text.encode(coding, "surrogatepass" if coding.startswith("utf") else "replace")


def of_zip(data: bytes, draw: random.Random) -> bytes:
    """Damage what is packed in a zip, its names, or the zip itself."""
    if draw.random() < 0.3:
        return of_bytes(data, draw)
    with zipfile.ZipFile(io.BytesIO(data)) as zipped:
        rows = [(i.filename, zipped.read(i)) for i in zipped.infolist()]
    for _ in range(draw.choice((1, 1, 2, 4))):
        at = draw.randrange(len(rows))
        name, member = rows[at]
        match draw.randrange(8):
            case 0:
                rows[at] = (draw.choice(NASTY)[:60000] or "x", member)
            case 1 if len(rows) > 1:
                del rows[at]
            case 2:
                rows.append((name, member))
            case 3:
                rows[at] = (name, b"")
            case _:
                rows[at] = (name, of_file(member, draw, [m for _, m in rows]))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", draw.choice((zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED))) as made:
        for name, member in rows:
            info = zipfile.ZipInfo(name.replace("\0", "").encode("utf-8", "replace").decode())
            info.compress_type = made.compression
            _quietly(made.writestr, info, member)
    return out.getvalue()


def _quietly(write: Callable[..., None], *given: object) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # two members of one name are meant
        write(*given)


def value(old: object, draw: random.Random) -> object:
    """Another value where a data row had `old`: of the same kind or of a wrong one."""
    if isinstance(old, list) and old and draw.random() < 0.6:
        out = list(old)
        at = draw.randrange(len(out))
        match draw.randrange(4):
            case 0:
                out[at] = value(out[at], draw)
            case 1:
                del out[at]
            case 2:
                out *= draw.choice((2, 50))
            case _:
                draw.shuffle(out)
        return out
    if isinstance(old, str) and draw.random() < 0.5:
        return of_text(old, draw)[:2000]
    if isinstance(old, int | float) and draw.random() < 0.5:
        return draw.choice((-old, old + 1, old * 1000, 0, -1, old / 3, 2**63 - 1, 1e308))
    wrong: tuple[object, ...] = (
        "", "x", "ni", -1, 0, 1, 7, 10**6, 2**63 - 1, 1.5, -0.5, 1e308, float("nan"), float("inf"),
        True, False, [], [[]], [1, 2, 3], ["a"], {}, {"a": 1}, [{"a": 1}], draw.choice(NASTY)[:300],
    )  # fmt: skip
    return draw.choice(wrong)


def written(given: object) -> str:
    """A value in TOML."""
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, int | float):
        return repr(given)
    if isinstance(given, list | tuple):
        return "[" + ", ".join(written(v) for v in given) + "]"
    if isinstance(given, dict):
        return "{" + ", ".join(f"{written(k)} = {written(v)}" for k, v in given.items()) + "}"
    text = str(given).encode("utf-8", "replace").decode()
    out = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + re.sub(r"[\x00-\x1f\x7f]", lambda m: f"\\u{ord(m[0]):04x}", out) + '"'
