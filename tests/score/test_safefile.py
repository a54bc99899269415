"""Files are written whole or not at all."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright import safefile
from chantwright.errors import ChantError


def _names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


@settings(deadline=None, max_examples=40)
@given(data=st.binary(max_size=200), keep=st.booleans())
def test_bytes_come_back(data: bytes, keep: bool, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("out") / "a.bin"
    safefile.write_bytes(path, data, keep=keep)
    assert path.read_bytes() == data
    assert _names(path.parent) == ["a.bin"]


def test_text_is_utf_8_with_plain_line_ends(tmp_path: Path) -> None:
    safefile.write_text(tmp_path / "a.txt", "Κύριε\n")
    assert (tmp_path / "a.txt").read_bytes() == "Κύριε\n".encode()


def test_only_the_version_before_the_last_change_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    for text in ("one", "two", "three", "three"):
        safefile.write_text(path, text, keep=True)
    assert path.read_text() == "three"
    assert safefile.backup_name(path).read_text() == "two"
    assert _names(tmp_path) == ["a.txt", "a.txt~"]


def test_nothing_is_kept_unless_asked(tmp_path: Path) -> None:
    safefile.write_text(tmp_path / "a.txt", "one")
    safefile.write_text(tmp_path / "a.txt", "two")
    assert _names(tmp_path) == ["a.txt"]


def test_the_temporary_file_stands_beside_and_ends_alike(tmp_path: Path) -> None:
    # Programs choose the form of a recording or picture by the ending of the name.
    with safefile.writing(tmp_path / "psalm.opus") as temporary:
        assert (temporary.parent, temporary.suffix) == (tmp_path, ".opus")
        assert not (tmp_path / "psalm.opus").exists()
        temporary.write_bytes(b"sound")
    assert (tmp_path / "psalm.opus").read_bytes() == b"sound"


@pytest.mark.parametrize("failure", [RuntimeError, KeyboardInterrupt])
def test_work_that_breaks_off_leaves_the_old_file(
    failure: type[BaseException], tmp_path: Path
) -> None:
    path = tmp_path / "a.txt"
    safefile.write_text(path, "old")
    with pytest.raises(failure), safefile.writing(path, keep=True) as temporary:
        temporary.write_text("half")
        raise failure
    assert path.read_text() == "old"
    assert _names(tmp_path) == ["a.txt"]


_FILL = """
import resource, sys
from chantwright import safefile
from chantwright.errors import ChantError
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
try:
    safefile.write_bytes(sys.argv[1], b"x" * 5000)
except ChantError as exc:
    sys.exit(str(exc))
"""


def test_a_file_that_the_system_cuts_short_is_not_put_in_place(tmp_path: Path) -> None:
    # A real failing write: the kernel refuses more than 1000 bytes (getrlimit(2), RLIMIT_FSIZE).
    path = tmp_path / "a.txt"
    path.write_text("old")
    run = subprocess.run(
        [sys.executable, "-c", _FILL, str(path)], check=False, capture_output=True, text=True
    )
    assert run.returncode == 1
    assert "cannot be written: the file would be larger than is allowed" in run.stderr
    assert "Traceback" not in run.stderr
    assert path.read_text() == "old"
    assert _names(tmp_path) == ["a.txt"]


def test_a_full_disk_is_said_plainly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")  # ENOSPC, errno(3)

    path = tmp_path / "a.txt"
    safefile.write_text(path, "old")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ChantError) as caught:
        safefile.write_text(path, "new")
    assert "the disk is full" in str(caught.value)
    assert path.read_text() == "old"
    assert _names(tmp_path) == ["a.txt"]


def test_places_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "folder").mkdir()
    (tmp_path / "ring").symlink_to("ring")
    for name, said in {
        "none/a.txt": "its folder does not exist",
        "file/a.txt": "a file, not a folder",
        "folder": "a folder of that name",
        "x" * 300: "the name is too long",
        "a\0b": "cannot be used",
        "ring": "",
    }.items():
        with pytest.raises(ChantError) as caught:
            safefile.write_text(tmp_path / name, "text")
        assert said in str(caught.value)
        assert caught.value.remedy
    assert _names(tmp_path) == ["file", "folder", "ring"]


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_that_may_only_be_read(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(ChantError, match="may not be written to"):
        safefile.write_text(tmp_path / "a.txt", "text")
    tmp_path.chmod(0o700)


def test_other_mistakes_of_the_block_stay_what_they_are(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError), safefile.writing(tmp_path / "a.txt"):
        (tmp_path / "no such source").read_bytes()
    assert _names(tmp_path) == []


def test_rights_of_the_file_stay(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    mask = os.umask(0o027)
    try:
        safefile.write_text(path, "one")
        assert stat.S_IMODE(path.stat().st_mode) == 0o640
        path.chmod(0o604)
        safefile.write_text(path, "two")
        assert stat.S_IMODE(path.stat().st_mode) == 0o604
    finally:
        os.umask(mask)


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    link = tmp_path / "a.txt"
    safefile.write_text(tmp_path / "real" / "a.txt", "one")
    link.symlink_to(tmp_path / "real" / "a.txt")
    safefile.write_text(link, "two", keep=True)
    assert link.is_symlink()
    assert (tmp_path / "real" / "a.txt").read_text() == "two"
    assert _names(tmp_path / "real") == ["a.txt", "a.txt~"]


def test_half_a_character_is_not_written(tmp_path: Path) -> None:
    with pytest.raises(ChantError) as caught:
        safefile.write_text(tmp_path / "a.txt", "a\nb\udc80")
    assert caught.value.where.line == 2
    assert _names(tmp_path) == []


@pytest.mark.parametrize("ends", range(3))
def test_a_killed_program_never_leaves_half_a_file(ends: int, tmp_path: Path) -> None:
    # SIGKILL cannot be caught: whatever is at the name afterwards is one whole version.
    code = (
        "import sys\nfrom chantwright import safefile\nn = 0\nprint('on', flush=True)\n"
        "while True:\n"
        "    safefile.write_bytes(sys.argv[1], (b'%d' % (n % 10)) * 200_000, keep=True)\n"
        "    n += 1\n    if n == 2 + int(sys.argv[2]): print('go', flush=True)\n"
    )
    path = tmp_path / "a.txt"
    run = subprocess.Popen(
        [sys.executable, "-c", code, str(path), str(ends)], stdout=subprocess.PIPE, text=True
    )
    assert run.stdout is not None
    with run.stdout:
        assert [run.stdout.readline(), run.stdout.readline()] == ["on\n", "go\n"]
        run.send_signal(signal.SIGKILL)
        run.wait()
    for name in (path, safefile.backup_name(path)):
        data = name.read_bytes()
        assert len(data) == 200_000
        assert len(set(data)) == 1


_CUT_OFF = """
import os, signal, sys
from chantwright import safefile
with safefile.writing(sys.argv[1]) as temporary:
    temporary.write_text("half")
    os.kill(os.getpid(), signal.SIGKILL)
"""


def test_scraps_of_killed_programs_are_swept_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.txt"
    safefile.write_text(path, "old")
    subprocess.run([sys.executable, "-c", _CUT_OFF, str(path)], check=False)
    (scrap,) = set(_names(tmp_path)) - {"a.txt"}
    assert safefile.is_scrap(scrap)
    own = (".a.x7f_2abc.txt", ".a.txt", "._a.txt", "a.saving-x7f_2abc.txt", ".a.saving-x7f.txt")
    for name in own:
        assert not safefile.is_scrap(name)
        (tmp_path / name).write_text("mine")
    assert safefile.sweep(tmp_path) == 0  # it may be a slow disk
    clock = time.time
    # Two hours on, or a clock that was put forward: what is being written is left alone.
    monkeypatch.setattr(time, "time", lambda: clock() + 7200)
    with safefile.writing(path) as temporary:
        os.utime(temporary, (0, 0))
        assert safefile.sweep(tmp_path) == 1
        assert temporary.is_file()
        temporary.write_text("new")
    assert path.read_text() == "new"
    assert _names(tmp_path) == sorted(("a.txt", *own))


def test_whoever_writes_into_a_folder_sweeps_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scrap = tmp_path / ".b.saving-x7f_2abc.opus"
    scrap.write_bytes(b"half")
    (tmp_path / ".c.saving-x7f_2abc").symlink_to("nowhere")
    clock = time.time
    monkeypatch.setattr(time, "time", lambda: clock() + 7200)
    safefile.write_text(tmp_path / "a.txt", "one")
    assert _names(tmp_path) == [".c.saving-x7f_2abc", "a.txt"]
    scrap.write_bytes(b"half")  # once in a while is enough
    safefile.write_text(tmp_path / "a.txt", "two")
    assert scrap.is_file()
