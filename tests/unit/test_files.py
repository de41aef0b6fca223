"""Files opened and put in place: only plain ones are read; written whole or not at all, over nothing of anybody's."""

from __future__ import annotations

import os
import re
import resource
import stat
import subprocess
import sys
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from optimiser import files, job_folder
from optimiser.errors import InputError
from tests import tiny_job
from tests.unit.conftest import Run

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
        job_folder.job(tmp_path, date(2026, 11, 24))


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


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tiny_job.write(tiny_job.BASE, tmp_path / "job")
    (folder / "quotes.csv").write_text("part,supplier,condition,price\ndisc,=1+1,new,5\ndisc,birch,new,6\n")
    return folder


WRITERS = [("compare", "--alone", "--csv"), ("compare", "--alone", "--xlsx"), ("diary", "--export")]


@pytest.mark.parametrize("words", WRITERS)
def test_what_others_are_writing_is_left_to_them(job: Path, run: Run, tmp_path: Path, words: tuple[str, ...]) -> None:
    theirs = tmp_path / ".table.unfinished"
    theirs.write_text("half a letter")
    code, _, err = run(words[0], job, *words[1:], tmp_path / "table")
    assert code == 0, err
    assert theirs.read_text() == "half a letter"
    assert (tmp_path / "table").stat().st_size > 0


@pytest.mark.parametrize("words", WRITERS[:2])
def test_a_table_that_is_written_again_keeps_its_mode(job: Path, run: Run, tmp_path: Path, words: Any) -> None:
    (tmp_path / "table").write_text("")
    (tmp_path / "table").chmod(0o640)
    assert run(words[0], job, *words[1:], tmp_path / "table")[0] == 0
    assert stat.S_IMODE((tmp_path / "table").stat().st_mode) == 0o640


@pytest.mark.parametrize("words", [*WRITERS, ("diary", "--rescue")])
@pytest.mark.parametrize("name", ["quotes/more.csv", "suppliers.csv", "record.sqlite-journal"])
def test_nothing_is_written_where_the_job_is_read_from(job: Path, run: Run, words: tuple[str, ...], name: str) -> None:
    (job / "quotes").mkdir()
    (job / "suppliers.csv").unlink(missing_ok=True)
    code, _, err = run(words[0], job, *words[1:], job / name)
    assert code == 2
    assert "a file of the job itself" in err
    assert not (job / name).exists()


def test_a_heading_that_a_spreadsheet_would_run_is_neutral(job: Path, run: Run, tmp_path: Path) -> None:
    assert run("compare", job, "--matrix", "--csv", tmp_path / "table.csv")[0] == 0
    heading = (tmp_path / "table.csv").read_text().splitlines()[0]
    assert ",'=1+1" in heading


def no_room() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


@pytest.mark.parametrize("words", WRITERS)
def test_a_full_disk_shows_its_message_alone(job: Path, tmp_path: Path, words: tuple[str, ...]) -> None:
    program = [sys.executable, "-m", "optimiser", words[0], str(job), *words[1:], str(tmp_path / "table")]
    done = subprocess.run(program, check=False, capture_output=True, encoding="utf-8", preexec_fn=no_room)
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 2
    assert re.search(r"cannot be written: (File too large|No usable temporary directory)", done.stderr)
    assert [path.name for path in tmp_path.iterdir()] == ["job"]
