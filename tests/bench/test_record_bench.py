"""How long the record takes, beside SQLite that reads the same rows and does nothing with them, in the same run.

Run ``pytest tests/bench/test_record_bench.py --benchmark-only``. Times are shown, never asserted; the ratio is in
``extra_info``.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest

from optimiser.ledger import Store
from optimiser.model import events as h
from tests.unit.ledger.sample import AT, note, one_of_each

HAPPENINGS, PLANS = 10_000, 200
PLAN = '{"format": 1, "text": "' + "x" * 50_000 + '"}'
PLAIN: list[float] = []
"""The plain read's seconds: what the reads after it are measured against."""


@pytest.fixture(scope="module")
def store(tmp_path_factory) -> Store:
    """Every kind in turn, all invented, and as many plans as a long winter makes."""
    made = Store(tmp_path_factory.mktemp("long"))
    kinds = one_of_each()
    made.append([kinds[n % len(kinds)].model_copy(update={"at": AT + timedelta(minutes=n)}) for n in range(HAPPENINGS)])
    for number in range(PLANS):
        made.add_plan(AT + timedelta(days=number), PLAN)
    return made


def plain(store: Store) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(store.path)) as connection:
        return connection.execute("SELECT number, body, checksum FROM happenings ORDER BY number").fetchall()


def money(store: Store) -> int:
    """Read, and folded as every verb folds it: what stands, added up."""
    return sum(entry.happening.cash_minor for entry in h.standing(store.entries()))


@pytest.mark.parametrize("way", ["plain-sqlite", "entries", "folded"])
def test_read_10000(benchmark, store, way) -> None:
    benchmark.group = f"read {HAPPENINGS} happenings"
    call = {"plain-sqlite": plain, "entries": Store.entries, "folded": money}[way]
    answer = benchmark.pedantic(call, args=(store,), rounds=10, warmup_rounds=1)
    seconds = benchmark.stats.stats.median
    if way == "plain-sqlite":
        PLAIN.append(seconds)
    elif PLAIN:
        benchmark.extra_info["over_plain_sqlite"] = round(seconds / PLAIN[0], 1)
    assert way == "folded" or len(answer) == HAPPENINGS


@pytest.mark.parametrize("size", ["first", "after-10000"])
def test_write_one(benchmark, store, tmp_path, size) -> None:
    """On the disk when it returns; beside it what one small synchronised file takes."""
    benchmark.group = "write one happening"
    stores = [store] * 10
    if size == "first":
        stores = [Store(tmp_path / f"{number}") for number in range(10)]
        for each in stores:
            each.folder.mkdir()
    left = iter(stores)
    (number,) = benchmark.pedantic(lambda: next(left).append([note()]), rounds=10)
    assert number == 1 if size == "first" else number > HAPPENINGS


def test_write_a_synced_file(benchmark, tmp_path) -> None:
    benchmark.group = "write one happening"

    def write() -> None:
        with (tmp_path / "file").open("wb") as file:
            file.write(b"x" * 4096)
            file.flush()
            os.fsync(file.fileno())

    benchmark.pedantic(write, rounds=10)
    assert (tmp_path / "file").stat().st_size == 4096
