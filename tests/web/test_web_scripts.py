"""The scripts of the pages keep the types that are written beside them."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest
from browsing import NPM, must_have, node

STATIC = Path(__file__).parents[2] / "src" / "chantwright" / "web" / "static"


def checked(tmp_path: Path, *files: Path) -> subprocess.CompletedProcess[str]:
    tool = NPM / "typescript" / "bin" / "tsc"
    found = node()
    must_have(found, "Node")
    must_have(tool, "TypeScript")
    config = tmp_path / "tsconfig.json"
    options = {
        "allowJs": True, "checkJs": True, "noEmit": True, "strict": True, "target": "es2023",
        "module": "esnext", "moduleResolution": "bundler", "skipLibCheck": True,
        "noImplicitReturns": True, "noUnusedLocals": True, "noFallthroughCasesInSwitch": True,
        "lib": ["es2023", "dom", "dom.iterable"], "typeRoots": [str(NPM / "@types")],
        "types": ["audioworklet"],
    }  # fmt: skip
    told = {"compilerOptions": options, "files": [str(f) for f in files]}
    config.write_text(json.dumps(told), encoding="utf-8")
    return subprocess.run(
        [str(found), str(tool), "-p", str(config)], capture_output=True, text=True, check=False
    )


def test_scripts_are_rightly_typed(tmp_path: Path) -> None:
    done = checked(tmp_path, *sorted(STATIC.glob("*.js")))
    assert done.returncode == 0, done.stdout


def test_the_check_would_find_a_mistake(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.js"
    wrong.write_text("/** @param {number} hz */\nexport const f = (hz) => hz.trim();\n")
    done = checked(tmp_path, wrong)
    assert done.returncode != 0
    assert "trim" in done.stdout


@pytest.mark.parametrize("script", sorted(p.name for p in STATIC.glob("*.js")))
def test_one_typed_declaration_a_line(script: str) -> None:
    # Two on one line: the checker reads only the last, without a word.
    for line in (STATIC / script).read_text(encoding="utf-8").splitlines():
        if line.strip().startswith("/**"):
            assert line.count("@type") + line.count("@param") <= 1, line
