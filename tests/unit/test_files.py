"""Files opened and put in place: only plain ones are read; written whole or not at all, over nothing of anybody's."""

from __future__ import annotations

import os
import stat
from datetime import date
from pathlib import Path

import pytest

from optimiser import files, read
from optimiser.errors import InputError

KERNEL_LOG = Path("/proc/kmsg")


@pytest.mark.parametrize("kind", ["pipe", "device", "folder"])
def test_what_is_no_plain_file_is_refused_at_once(tmp_path: Path, kind: str) -> None:
    path = tmp_path / kind
    if kind == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to("/dev/zero" if kind == "device" else tmp_path)
    with pytest.raises(OSError, match=r"no plain file|directory"):
        files.content(path, 10)


@pytest.mark.skipif(not os.access(KERNEL_LOG, os.R_OK), reason="a plain file that waits is only there for some")
def test_a_job_that_is_a_file_of_the_system_hangs_nobody(tmp_path: Path) -> None:
    (tmp_path / "job.toml").symlink_to(KERNEL_LOG)
    with pytest.raises(InputError):
        read.job(tmp_path, date(2026, 11, 24))


def test_put_in_place_together_or_not_at_all(tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    one.write_bytes(b"before")

    def fails() -> None:
        with files.put_in_place(one, two) as written:
            written[0].write(b"after")
            raise OSError("full")

    with pytest.raises(OSError, match="full"):
        fails()
    assert [path.name for path in tmp_path.iterdir()] == ["one"]
    assert one.read_bytes() == b"before"
    with files.put_in_place(one, two) as written:
        for file in written:
            file.write(b"after")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"one": b"after", "two": b"after"}


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o444])
def test_a_file_that_was_there_leaves_its_mode(tmp_path: Path, mode: int) -> None:
    path = tmp_path / "table.csv"
    path.write_bytes(b"before")
    path.chmod(mode)
    with files.put_in_place(path) as (file,):
        assert stat.S_IMODE(os.fstat(file.fileno()).st_mode) == mode
        file.write(b"after")
    assert (path.read_bytes(), stat.S_IMODE(path.stat().st_mode)) == (b"after", mode)


def test_the_longest_of_names(tmp_path: Path) -> None:
    path = tmp_path / ("ß" * 125)
    with files.put_in_place(path) as (file,):
        file.write(b"x")
    assert path.read_bytes() == b"x"
