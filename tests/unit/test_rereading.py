"""Moments one after another: files are read again where they changed, the record is read every time."""

from __future__ import annotations

import os
import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from optimiser import job_folder, rereading, service
from optimiser.errors import CallError, InputError
from optimiser.ledger import Store
from optimiser.model.events import Note
from optimiser.rereading import Rereading

TODAY = date(2026, 11, 29)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of an example whose files changed long ago."""
    copy = Path(shutil.copytree(Path(__file__).parents[2] / "examples/look-first", tmp_path / "job"))
    (copy / "record.sqlite").unlink(missing_ok=True)
    return copy


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """How often a folder was read; its files count as long settled."""
    found: list[Path] = []
    read = job_folder.job
    monkeypatch.setattr(job_folder, "job", lambda where, today: found.append(where) or read(where, today))
    monkeypatch.setattr(rereading, "COARSE_NS", -(10**12))
    return found


def changed(path: Path, text: str) -> None:
    """Write as another program would, a moment later."""
    at = path.stat().st_mtime_ns if path.exists() else 0
    path.write_text(text, encoding="utf-8")
    os.utime(path, ns=(at + 10**9, at + 10**9))


def test_an_unchanged_folder_is_read_once(folder: Path, reads: list[Path]) -> None:
    again = Rereading(folder)
    one, two = again.moment(TODAY), again.moment(TODAY)
    assert one is two
    assert len(reads) == 1
    assert one.job == service.moment(folder, TODAY).job


@pytest.mark.parametrize("name", ["job.toml", "quotes.csv", "suppliers.csv", "quotes/new.csv"])
def test_whatever_file_changed_is_read_again(folder: Path, reads: list[Path], name: str) -> None:
    again = Rereading(folder)
    again.moment(TODAY)
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    header = "part,supplier,condition,price\n"
    changed(path, (path.read_text(encoding="utf-8") if path.exists() else header) + "\n")
    again.moment(TODAY)
    assert len(reads) == 2


def test_a_file_that_goes_and_another_day_are_seen(folder: Path, reads: list[Path]) -> None:
    again = Rereading(folder)
    again.moment(TODAY)
    again.moment(TODAY + timedelta(days=1))
    assert len(reads) == 2
    (folder / "job.toml").unlink()
    with pytest.raises(CallError):
        again.moment(TODAY)


def test_what_changed_just_now_is_not_trusted(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read, count = job_folder.job, []
    monkeypatch.setattr(job_folder, "job", lambda where, today: count.append(1) or read(where, today))
    (folder / "job.toml").touch()
    again = Rereading(folder)
    again.moment(TODAY)
    again.moment(TODAY)
    assert len(count) == 2


def test_the_record_is_read_every_time(folder: Path, reads: list[Path]) -> None:
    again = Rereading(folder)
    before = again.moment(TODAY)
    Store(folder).append([Note(at=datetime.now(UTC), source="noted", text="hello")])
    after = again.moment(TODAY)
    assert (before.known, after.known) == (0, 1)
    assert after.folder is before.folder
    assert len(reads) == 1


def test_a_broken_file_is_said_each_time_until_it_is_mended(folder: Path, reads: list[Path]) -> None:
    again = Rereading(folder)
    good = (folder / "job.toml").read_text(encoding="utf-8")
    again.moment(TODAY)
    changed(folder / "job.toml", good + "\n[[fault]]\nseverity = 3\n")
    for _ in range(2):
        with pytest.raises(InputError):
            again.moment(TODAY)
    changed(folder / "job.toml", good)
    assert again.moment(TODAY).job.faults
    assert len(reads) == 4
