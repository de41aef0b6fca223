"""The user's cache: bounded, damaged files are as if they were not there, and no answer hangs on it."""

from __future__ import annotations

import os
import shutil
from datetime import date
from pathlib import Path

import pytest

from optimiser import cache, service
from optimiser.cache import Cache, name_of
from optimiser.model.job import Job
from optimiser.model.plan import Plan
from optimiser.planning import choose

EXAMPLE = Path(__file__).parents[2] / "examples" / "look-first"
TODAY = date(2026, 11, 24)


def planned(folder: Path) -> Plan:
    return service.plan(service.moment(folder, TODAY).job)


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache of its own in which every search is kept."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(choose, "WORTH_KEEPING", -1.0)
    folder = Cache.of_user("routes").folder
    assert tmp_path in folder.parents
    return folder


def test_what_was_put_in_comes_out_again(tmp_path: Path) -> None:
    one = Cache(tmp_path / "new" / "folder")
    assert one.get("name") is None
    one.put("name", b"content")
    assert one.get("name") == b"content"
    assert [path.name for path in one.folder.iterdir()] == ["name"]


@pytest.mark.parametrize(
    "damage", [lambda b: b[:-1], lambda b: b[:40] + b"x" + b[41:], lambda _: b"", lambda b: b + b"0"]
)
def test_a_damaged_file_is_as_if_it_were_not_there(tmp_path: Path, damage) -> None:
    one = Cache(tmp_path)
    one.put("name", b"content of some length")
    path = tmp_path / "name"
    path.write_bytes(damage(path.read_bytes()))
    assert one.get("name") is None
    one.put("name", b"again")
    assert one.get("name") == b"again"


def test_a_file_under_another_name_is_not_taken(tmp_path: Path) -> None:
    one = Cache(tmp_path)
    one.put("name", b"content")
    (tmp_path / "name").rename(tmp_path / "other")
    assert one.get("other") is None


def test_what_was_used_longest_ago_makes_way(tmp_path: Path) -> None:
    one = Cache(tmp_path, most_bytes=1000)
    for n, name in enumerate("abcd"):
        one.put(name, bytes(200))
        os.utime(tmp_path / name, (n, n))
    assert one.get("a") is not None  # used just now
    one.put("e", bytes(200))
    assert {path.name for path in tmp_path.iterdir()} == {"a", "d", "e"}
    one.put("great", bytes(2000))
    assert one.get("great") is None


def test_a_cache_that_cannot_be_written_is_no_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    one = Cache(tmp_path / "file" / "folder")
    one.put("name", b"content")
    assert one.get("name") is None


def test_names_tell_parts_apart() -> None:
    assert len({name_of([b"ab", b"c"]), name_of([b"a", b"bc"]), name_of([b"abc"]), name_of([b"ab", b"c", b""])}) == 4


def test_a_plan_is_the_same_searched_and_taken_from_the_cache(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = planned(EXAMPLE)
    files = {path.name for path in kept.iterdir()}
    assert files
    monkeypatch.setattr("optimiser.diagnosis.candidates.FaultSearch.searched", None)  # nothing is searched any more
    assert planned(EXAMPLE) == first
    assert {path.name for path in kept.iterdir()} == files


def test_damage_and_another_version_are_searched_again(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = planned(EXAMPLE)
    for path in kept.iterdir():
        path.write_bytes(b"nothing that was ever kept")
    assert planned(EXAMPLE) == first
    before = {path.name for path in kept.iterdir()}
    monkeypatch.setattr(cache, "version", lambda: b"another")
    assert planned(EXAMPLE) == first
    assert before < {path.name for path in kept.iterdir()}


def test_it_is_switched_off_by_the_job(kept: Path, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    shutil.copytree(EXAMPLE, folder, ignore=shutil.ignore_patterns("record.sqlite*"))
    file = folder / "job.toml"
    file.write_text(file.read_text() + "\n[solve]\ncache = false\n")
    job: Job = service.moment(folder, TODAY).job
    assert not job.solve.cache
    assert service.plan(job).selection == planned(EXAMPLE).selection
    shutil.rmtree(kept)
    service.plan(job)
    assert not kept.exists()
