"""The text of an old plan is shortened as a new one is kept: in one transaction, and nothing else moves."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest

from optimiser.ledger import RECORD_FILE, DamagedRecordError, Store, stored_rows
from optimiser.ledger.schema import PAGE_BYTES

from .sample import AT, full_store, left_in, note
from .test_writers import forked

LONG = "[" + ",".join(["7"] * 20_000) + "]"
"""A plan of several pages."""
TO_THREE = {3: lambda _: "[3]"}
"""The last three stay long."""


def keep(store: Store, count: int) -> list[str]:
    """So many plans kept; the texts of all there are then."""
    for number in range(count):
        store.add_plan(AT, f"[{number}, {LONG}]", None, TO_THREE)
    return [plan.text for plan in store.plans()]


def test_nothing_but_the_text_of_old_plans_changes(tmp_path: Path) -> None:
    store, before = full_store(tmp_path)
    keep(store, 5)
    store.append([note()])
    keep(store, 2)
    now = store.everything()
    assert now.entries[:-1] == before.entries
    assert [(plan.number, plan.after) for plan in now.plans] == list(zip(range(1, 10), (20, 20, *[21] * 5, 22, 22)))
    assert [plan.text for plan in now.plans[:-3]] == ["[3]"] * 6
    assert [len(plan.text) > len(LONG) for plan in now.plans[-3:]] == [True] * 3
    assert left_in(tmp_path) == [RECORD_FILE]


def test_a_shortened_plan_takes_a_page_of_the_file_at_the_most(tmp_path: Path) -> None:
    store = Store(tmp_path)
    keep(store, 4)
    size = store.path.stat().st_size
    keep(store, 20)
    assert store.path.stat().st_size <= size + 20 * PAGE_BYTES


def test_one_row_is_looked_at_for_each_form(tmp_path: Path) -> None:
    store, asked = Store(tmp_path), []

    def counted(text: str) -> str:
        asked.append(text)
        return text

    for number in range(6):
        store.add_plan(AT, f"[{number}]", None, {2: counted, 4: counted})
    assert asked == ["[0]", "[1]", "[2]", "[0]", "[3]", "[1]"]
    assert [plan.text for plan in store.plans()] == [f"[{number}]" for number in range(6)]


def test_a_damaged_plan_is_not_made_whole_by_shortening_it(tmp_path: Path) -> None:
    store = Store(tmp_path)
    keep(store, 3)
    data = store.path.read_bytes()
    place = data.index(b"[0, [7,7")
    store.path.write_bytes(data[:place] + b"[9, [7,7" + data[place + 8 :])
    store.add_plan(AT, "[]", None, TO_THREE)
    with pytest.raises(DamagedRecordError) as told:
        store.plans()
    assert "plan 1" in str(told.value)
    assert [plan.number for plan in told.value.plans] == [2, 3, 4]


def test_what_is_no_plan_s_text_is_not_written(tmp_path: Path) -> None:
    store = Store(tmp_path)
    before = keep(store, 3)
    with pytest.raises(ValueError, match="JSON"):
        store.add_plan(AT, "[]", None, {3: lambda _: "no JSON"})
    assert [plan.text for plan in store.plans()] == before


def test_the_new_plan_and_the_shorter_one_are_one_write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = Store(tmp_path)
    before = keep(store, 3)

    def full(*_: object) -> None:
        raise RuntimeError("no room")

    monkeypatch.setattr(stored_rows, "add_plans", full)
    with pytest.raises(RuntimeError):
        store.add_plan(AT, LONG, None, TO_THREE)
    assert [plan.text for plan in store.plans()] == before


def kill_many(folder: Path, kills: int, seed: int) -> int:
    """Plans are kept by writers that are killed; how many journals they left. Each plan is in one of its forms."""
    chance, store, journals, least = random.Random(seed), Store(folder), 0, 0

    def keeps_for_ever(pipe: int) -> None:
        while True:
            os.write(pipe, f"{store.add_plan(AT, LONG, None, TO_THREE).number}\n".encode())

    for _ in range(kills):
        child, reading = forked(keeps_for_ever)
        with os.fdopen(reading) as pipe:
            for _ in range(chance.randrange(4)):
                pipe.readline()
            time.sleep(chance.random() * 0.01)
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            told = pipe.read().split()
        journals += len(left_in(folder)) > 1
        least = max(least, *map(int, told)) if told else least
        texts = [plan.text for plan in store.plans()]
        assert len(texts) >= least
        assert texts == ["[3]"] * (len(texts) - 3) + [LONG] * min(3, len(texts))
        least = len(texts)
    return journals


@pytest.mark.skipif(not hasattr(os, "fork"), reason="writers are forked processes")
def test_15_kills(tmp_path: Path) -> None:
    kill_many(tmp_path, 15, seed=1)


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="writers are forked processes")
def test_300_kills(tmp_path: Path) -> None:
    assert kill_many(tmp_path, 300, seed=2) > 5


def test_nobody_else_may_change_a_plan(tmp_path: Path) -> None:
    store = Store(tmp_path)
    keep(store, 5)
    with closing(sqlite3.connect(store.path)) as connection:
        for words in ("UPDATE plans SET text = '[]'", "DELETE FROM plans"):
            with pytest.raises(sqlite3.IntegrityError, match="only ever added to"):
                connection.execute(words)
