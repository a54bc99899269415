"""The Python ear and the pack's ear lay the same takes along their hymns alike.

The takes stand in tests/data/pack_alignments.json (see web_pack_alignments.py): sung by a singer
that neither ear was built with, traced by the Python ear. One morion is 16.67 cents.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from web_pack_alignments import FILE, NI, WAYS, asked, frames, tempo_of, told

NODE = shutil.which("node")
if NODE is None:  # pragma: no cover
    pytest.skip("THE PACK'S EAR WAS NOT TRIED: no node", allow_module_level=True)

CASES: list[dict[str, Any]] = json.loads(FILE.read_text(encoding="utf-8"))
NAMES = [case["name"] for case in CASES]


@pytest.fixture(scope="module")
def verdicts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    rows = [
        {"notes": asked(case), "frames": frames(case),
         "options": {"zeroHz": NI, "tempo": tempo_of(case), "limit": 2.0}}
        for case in CASES
    ]  # fmt: skip
    listed = tmp_path_factory.mktemp("alignments") / "cases.json"
    listed.write_text(json.dumps(rows), encoding="utf-8")
    done = subprocess.run(
        [str(NODE), str(Path(__file__).with_name("judge_cases.mjs")),
         str(resources.files("chantwright.web") / "static" / "pack"), str(listed)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return dict(zip(NAMES, json.loads(done.stdout), strict=True))


@pytest.mark.parametrize("case", CASES, ids=NAMES)
def test_the_python_ear_still_says_what_is_written(case: dict[str, Any]) -> None:
    now = told(case)
    written = case["ear"]
    assert now["left out"] == written["left out"]
    assert now["again"] == written["again"]
    assert now["shift"] == pytest.approx(written["shift"], abs=0.05)
    assert now["off"] == pytest.approx(written["off"], abs=0.05)


@pytest.mark.parametrize("case", CASES, ids=NAMES)
def test_both_ears_agree(case: dict[str, Any], verdicts: dict[str, dict[str, Any]]) -> None:
    verdict, ear = verdicts[case["name"]], case["ear"]
    assert verdict["heard"], verdict["why"]
    place = {note["id"]: i for i, note in enumerate(verdict["notes"])}
    states = [note["state"] for note in verdict["notes"]]
    assert [i for i, state in enumerate(states) if state == "left out"] == ear["left out"]
    assert sorted(place[name] for name in verdict["again"]) == ear["again"]
    assert verdict["shift"] == pytest.approx(ear["shift"], abs=0.5)
    apart = {i: verdict["notes"][int(i)]["off"] - off for i, off in ear["off"].items()}
    assert len(apart) + len(ear["left out"]) == len(states)
    print(case["name"], "worst", round(max(map(abs, apart.values())), 2), "moria")
    assert {i: round(d, 2) for i, d in apart.items() if abs(d) > 0.5} == {}


def test_the_takes_are_such_that_agreeing_is_no_accident() -> None:
    assert [way.name for way in WAYS] == NAMES
    for way, case in zip(WAYS, CASES, strict=True):
        # Each is off by more than the ears may differ, and where it was asked to be.
        assert np.ptp(list(case["ear"]["off"].values())) > 2
        assert case["ear"]["shift"] == pytest.approx(way.shift, abs=1.0)
        assert case["pitch"][: round(100 * way.delay)] == [None] * round(100 * way.delay)
    assert sum(bool(case["ear"]["left out"]) for case in CASES) == 3
    assert sum(bool(case["ear"]["again"]) for case in CASES) == 2
