"""Run the tests that drive a browser again and again, and tell how often they failed.

They run on every core, as in `make test`. Run: python tools/browser_runs.py [TIMES]
Prints the seconds of each run; ends with 1 if any run failed or took longer than it may.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
TESTS = ("test_web_browser.py", "test_web_prepare.py", "test_web_range.py")
MOST_SECONDS = 120.0


def main(times: int) -> int:
    """Run them so many times; returns how many runs failed or were too slow."""
    bad = 0
    command = [sys.executable, "-m", "pytest", "-q", "-n", "auto", "-p", "no:cacheprovider"]
    command += [str(ROOT / "tests" / "web" / name) for name in TESTS]
    for number in range(1, times + 1):
        began = time.monotonic()
        run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
        seconds = time.monotonic() - began
        wrong = [line for line in run.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
        fine = run.returncode == 0 and seconds <= MOST_SECONDS
        bad += not fine
        print(f"{number:3} {seconds:6.1f} s {'right' if fine else 'NOT RIGHT'}", *wrong, flush=True)
    print(f"{times - bad} of {times} runs without a failure and within {MOST_SECONDS:.0f} seconds")
    return bad


if __name__ == "__main__":
    raise SystemExit(min(1, main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)))
