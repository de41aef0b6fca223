"""The files of the examples spoiled at random: each folder is a job, or is refused by place and mend.

Documented command: ``pytest -m slow tests/property/job_folder/test_fuzz.py``; a short run is in the suite.
"""

from __future__ import annotations

import random
import re
import shutil
import time
from collections import Counter
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from optimiser import job_folder
from optimiser.errors import CallError, InputError, Problem
from optimiser.job_folder.problems import MOST_SHOWN
from optimiser.model.job import Job

EXAMPLES = sorted(path.parent for path in (Path(__file__).parents[3] / "examples").glob("*/job.toml"))
DAY = date(2026, 11, 24)
SECONDS_A_FOLDER = 10
"""Of the processor, so that a busy machine fails nothing; the slowest took a fraction of one."""
MOST_SIGNS = 1_000
"""Of any word about a problem."""
HUGE = [
    b"9" * 30,
    b"9" * 400,
    b"9" * 5_000,
    b"1e308",
    b"1e999",
    b"-1",
    b"-0.0",
    b"0",
    b"nan",
    b"inf",
    b"0x7fffffffffffffff",
]
ODD = [
    *("\u202e", "\u0000", "\u00a0", "\ufeff", "\u0661", "\u2212", "\uff11", "e\u0301" * 30, "\U0001f527", "\u2028"),
    *("\x1b[2J", "x" * 5_000, "\u00e9 " * 500),
    *('"""', "'''", "[[", "]]", "{", "=", "#", '"', ",", ";", "\r", "\t", "${x}", "=1+1", "<b>", "../../x", "[job]"),
]  # fmt: skip
KEY = re.compile(rb"^[ \t]*[\w-]+(?=[ \t]*=)|(?<=[{,] )[\w-]+(?= =)", re.MULTILINE)
NUMBER = re.compile(rb"\d+(?:\.\d+)?")
WORD = re.compile(rb"[A-Za-z-]{2,}")


def _put(data: bytes, found: re.Match[bytes], new: bytes) -> bytes:
    return data[: found.start()] + new + data[found.end() :]


def _one(pattern: re.Pattern[bytes], data: bytes, rng: random.Random) -> re.Match[bytes] | None:
    found = list(pattern.finditer(data))
    return rng.choice(found) if found else None


def byte_flipped(data: bytes, rng: random.Random) -> bytes:
    place = rng.randrange(len(data))
    return data[:place] + bytes([data[place] ^ 1 << rng.randrange(8)]) + data[place + 1 :]


def line_doubled(data: bytes, rng: random.Random) -> bytes:
    lines = data.splitlines(keepends=True)
    place = rng.randrange(len(lines))
    return b"".join([*lines[:place], *[lines[place]] * rng.choice((2, 3, 200)), *lines[place + 1 :]])


def lines_out_of_order(data: bytes, rng: random.Random) -> bytes:
    lines = data.splitlines(keepends=True)
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"".join(lines)


def cut_off(data: bytes, rng: random.Random) -> bytes:
    return data[: rng.randrange(len(data))]


def number_made_huge(data: bytes, rng: random.Random) -> bytes:
    found = _one(NUMBER, data, rng)
    return data if found is None else _put(data, found, rng.choice(HUGE))


def key_renamed(data: bytes, rng: random.Random) -> bytes:
    found, other = _one(KEY, data, rng) or _one(WORD, data, rng), _one(KEY, data, rng) or _one(WORD, data, rng)
    if found is None or other is None:
        return data
    return _put(data, found, rng.choice((other.group(), found.group() + b"s", found.group().upper(), b'"a b"', b"")))


def word_for_another(data: bytes, rng: random.Random) -> bytes:
    found, other = _one(WORD, data, rng), _one(WORD, data, rng)
    return data if found is None or other is None else _put(data, found, other.group())


def kind_changed(data: bytes, rng: random.Random) -> bytes:
    """A value becomes one of another kind."""
    found = _one(re.compile(rb"(?<== )[^\n]+"), data, rng)
    kinds = (b"[]", b"{}", b"true", b'""', b"[[[1]]]", b"{ a = { b = 1 } }", b"2026-11-24", b"07:30:00", b"[" * 3_000)
    return data if found is None else _put(data, found, rng.choice(kinds))


def oddly_written(data: bytes, rng: random.Random) -> bytes:
    place = rng.randrange(len(data))
    return data[:place] + rng.choice(ODD).encode() + data[place:]


WAYS: list[Callable[[bytes, random.Random], bytes]] = [
    byte_flipped, line_doubled, lines_out_of_order, cut_off, number_made_huge, key_renamed, word_for_another,
    kind_changed, oddly_written,
]  # fmt: skip


def spoil(folder: Path, rng: random.Random) -> list[str]:
    """Spoil one to three things in the folder's files; how."""
    files = sorted(path for path in folder.rglob("*") if path.suffix in (".toml", ".csv"))
    told = []
    for _ in range(rng.choice((1, 1, 2, 3))):
        path, way = rng.choice([folder / "job.toml", *files]), rng.choice(WAYS)
        data = path.read_bytes()
        path.write_bytes(way(data, rng) if data else b"\n")
        told.append(f"{path.name} {way.__name__}")
    return told


def run(tmp_path: Path, count: int, seed: int) -> Counter[str]:
    happened: Counter[str] = Counter()
    for number in range(count):
        rng = random.Random(f"{seed} {number}")
        folder = Path(shutil.copytree(rng.choice(EXAMPLES), tmp_path / "job"))
        told = f"{seed} {number}: {spoil(folder, rng)}"
        started = time.process_time()
        try:
            job = job_folder.job(folder, DAY)
            assert Job.model_validate_json(job.model_dump_json()) == job, told
            happened["a job"] += 1
        except (InputError, CallError) as error:
            must_help(error, told)
            happened["refused"] += 1
        except Exception as error:
            raise AssertionError(told) from error
        assert time.process_time() - started < SECONDS_A_FOLDER, told
        shutil.rmtree(folder)
    return happened


def must_help(error: InputError | CallError, told: str) -> None:
    """Each problem says where it is, what is there and how to mend it, in words that can be printed and read."""
    of_the_call = isinstance(error, CallError)
    problems = (Problem("the call", "", "", error.found, "", error.mend),) if of_the_call else error.problems
    assert 0 < len(problems) <= MOST_SHOWN, told
    for problem in problems:
        assert all((problem.file, problem.mend, problem.found or problem.expected)), (told, problem)
        words = (problem.file, problem.where, problem.key, problem.found, problem.expected, problem.mend)
        assert all(word.isprintable() and len(word) <= MOST_SIGNS for word in words), (told, problem)


def test_sixty(tmp_path: Path) -> None:
    happened = run(tmp_path, 60, seed=3)
    assert min(happened["a job"], happened["refused"]) > 5


@pytest.mark.slow
def test_six_thousand(tmp_path: Path) -> None:
    happened = run(tmp_path, 6_000, seed=2026)
    print(dict(happened))
    assert min(happened["a job"], happened["refused"]) > 500
