"""Writers that are killed, and writers that come all at once: nothing that was acknowledged is lost or doubled.

The long runs: ``pytest -m slow tests/unit/ledger/test_writers.py -s``. A kill shows what a process leaves behind; what
a power cut would leave rests on ``synchronous=EXTRA``, which ``test_store.py`` holds.
"""

from __future__ import annotations

import os
import random
import signal
import threading
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

import pytest

from optimiser.errors import CallError, RecordInUseError
from optimiser.ledger import RECORD_FILE, Store, stored_rows
from optimiser.model import events as h

from .sample import AT, apart, left_in, note

pytestmark = [pytest.mark.long, pytest.mark.skipif(not hasattr(os, "fork"), reason="writers are forked processes")]
MOST_WRITES, ONE_WRITE = 10, 0.004
"""A writer is killed after so many acknowledged writes at most, and so many seconds: anywhere within the next one."""


class Acknowledged(NamedTuple):
    """What a writer was told is on disk: its words in order, how many were struck out, how many plans were kept."""

    texts: list[str]
    strikes: int
    plans: int


def forked(do: Callable[[int], None]) -> tuple[int, int]:
    """A process that writes into a pipe what it was told; its id and the end to read from."""
    reading, writing = os.pipe()
    child = os.fork()
    if child:
        os.close(writing)
        return child, reading
    try:
        os.close(reading)
        do(writing)
    finally:
        os._exit(0)


def writes_for_ever(store: Store, name: str) -> Callable[[int], None]:
    """One, three, a plan, a strike, and so on; a line into the pipe after each call that returned."""

    def do(pipe: int) -> None:
        for turn in range(10**6):
            if turn % 7 == 5:
                store.add_plan(AT, f'"{name}"')
                told = "plan"
            elif turn % 7 == 3:
                store.strike(AT, "strike")
                told = "strike"
            else:
                texts = [f"{name}-{turn}-{part}" for part in range(3 if turn % 7 == 1 else 1)]
                store.append([note(text) for text in texts])
                told = " ".join(texts)
            os.write(pipe, f"{told}\n".encode())

    return do


def killed_at_random(store: Store, name: str, chance: random.Random) -> Acknowledged:
    """Let a writer live a moment; what it was told until then."""
    child, reading = forked(writes_for_ever(store, name))
    with os.fdopen(reading) as pipe:
        told = [pipe.readline().rstrip("\n") for _ in range(chance.randrange(MOST_WRITES))]
        time.sleep(chance.random() * ONE_WRITE)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        told += pipe.read().splitlines()
    texts = [text for line in told if line not in {"plan", "strike"} for text in line.split()]
    return Acknowledged(texts, told.count("strike"), told.count("plan"))


def has_journal(store: Store) -> bool:
    return len(left_in(store.folder)) == 2


def must_hold(store: Store, before: h.Entry | None, name: str, told: Acknowledged, plans_before: int) -> None:
    """Everything acknowledged is there, in order; at most the one call that nobody heard of came after it, whole."""
    first = 0 if before is None else before.number
    new = store.entries()[first:]
    texts = [entry.happening.text for entry in new if isinstance(entry.happening, h.Note)]
    strikes = sum(isinstance(entry.happening, h.Strike) for entry in new)
    assert all(text.startswith(f"{name}-") for text in texts)
    assert texts[: len(told.texts)] == told.texts
    unheard = texts[len(told.texts) :]
    assert len({text.rsplit("-", 1)[0] for text in unheard}) <= 1
    if unheard and int(unheard[0].split("-")[-2]) % 7 == 1:
        assert len(unheard) == 3
    plans = len(store.plans()) - plans_before
    extra = (len(unheard) > 0) + (strikes - told.strikes) + (plans - told.plans)
    assert extra in {0, 1}


def kill_many(folder: Path, kills: int, seed: int) -> Counter[str]:
    """A fresh record every ten kills, so that its making is hit too."""
    chance = random.Random(seed)
    count: Counter[str] = Counter()
    for number in range(kills):
        if number % 10 == 0:
            store = Store(folder / f"{number}")
            store.folder.mkdir()
        entries, plans = store.entries(), store.plans()
        name = f"w{number}"
        told = killed_at_random(store, name, chance)
        journal = has_journal(store)
        must_hold(store, entries[-1] if entries else None, name, told, len(plans))
        taken_back = journal and not has_journal(store)
        assert number % 3 or settled(store)
        assert store.entries()[: len(entries)] == tuple(
            entry._replace(struck_by=now.struck_by) for entry, now in zip(entries, store.entries())
        )
        heard = len(told.texts) + told.strikes + told.plans
        count += Counter(kills=1, acknowledged=heard, journals=int(journal), taken_back=int(taken_back))
    return count


def settled(store: Store) -> bool:
    """After a write nothing is left of a kill. Reading leaves a journal that was cut off before it held anything."""
    store.append([note("w-0-0")])
    return left_in(store.folder) == [RECORD_FILE]


def test_20_kills(tmp_path) -> None:
    assert kill_many(tmp_path, 20, seed=1)["acknowledged"] > 0


@pytest.mark.slow
def test_1200_kills(tmp_path) -> None:
    count = kill_many(tmp_path, 1200, seed=2)
    print(f"\n{dict(count)}")
    assert count["taken_back"] > 10


def write_together(folder: Path, writers: int, each: int) -> float:
    """Every writer writes its own words one at a time; the seconds it took all of them."""
    store = Store(folder, wait_seconds=60)

    def writes(name: int) -> Callable[[int], None]:
        def do(pipe: int) -> None:
            for number in range(each):
                (given,) = store.append([note(f"{name} {number}")])
                os.write(pipe, f"{given} {name} {number}\n".encode())

        return do

    started = time.monotonic()
    running = [forked(writes(name)) for name in range(writers)]
    told: dict[int, str] = {}
    for child, reading in running:
        with os.fdopen(reading) as pipe:
            for line in pipe:
                given, words = line.rstrip("\n").split(" ", 1)
                assert int(given) not in told
                told[int(given)] = words
        os.waitpid(child, 0)
    seconds = time.monotonic() - started
    entries = store.entries()
    assert [entry.number for entry in entries] == list(range(1, writers * each + 1))
    assert {entry.number: entry.happening.text for entry in entries} == told
    for name in range(writers):
        own = [entry.happening.text for entry in entries if entry.happening.text.startswith(f"{name} ")]
        assert own == [f"{name} {number}" for number in range(each)]
    assert left_in(folder) == [RECORD_FILE]
    return seconds


def test_three_writers_at_once(tmp_path) -> None:
    write_together(tmp_path, 3, 20)


@pytest.mark.slow
@pytest.mark.parametrize("writers", [2, 3, 4])
def test_2000_happenings_from_writers_at_once(tmp_path, writers) -> None:
    seconds = write_together(tmp_path, writers, 2000 // writers + (2000 % writers > 0))
    print(f"\n{writers} writers: {seconds:.0f} s")


def test_two_that_strike_at_once_strike_two(tmp_path) -> None:
    store = Store(tmp_path, wait_seconds=60)
    store.append([note("a"), note("b"), note("c")])

    def strikes(pipe: int) -> None:
        try:
            os.write(pipe, f"{store.strike(AT, 'strike').number} ".encode())
        except CallError:
            os.write(pipe, b"none ")

    told: list[str] = []
    running = [forked(strikes) for _ in range(4)]
    for child, reading in running:
        with os.fdopen(reading) as pipe:
            told += pipe.read().split()
        os.waitpid(child, 0)
    assert sorted(told) == ["1", "2", "3", "none"]
    assert not list(h.standing(store.entries()))


def test_readers_meet_only_whole_writes(tmp_path) -> None:
    """Three at a time are written while somebody reads over and over."""
    store = Store(tmp_path, wait_seconds=60)

    def writes(_: int) -> None:
        for number in range(25):
            store.append([note(f"{number}")] * 3)

    child, reading = forked(writes)
    seen = [0]
    while os.waitpid(child, os.WNOHANG) == (0, 0):
        seen.append(len(store.entries()))
    os.close(reading)
    assert all(count % 3 == 0 for count in seen)
    assert seen == sorted(seen)
    assert len(store.entries()) == 75


def test_threads_beside_a_process(tmp_path) -> None:
    """Looking at a file gives up the locks that the same process holds on it elsewhere: one thread at a time looks."""
    store = Store(tmp_path, wait_seconds=60)
    store.append([note("begun")])

    def writes(name: str) -> None:
        for number in range(40):
            store.append([note(f"{name} {number}")])

    def reads() -> None:
        while not done.is_set():
            store.entries()

    child, reading = forked(lambda _: writes("process"))
    done = threading.Event()
    with ThreadPoolExecutor(4) as threads:
        readers = [threads.submit(reads) for _ in range(2)]
        for writer in [threads.submit(writes, f"thread{n}") for n in range(2)]:
            writer.result()
        done.set()
        for reader in readers:
            reader.result()
    os.waitpid(child, 0)
    os.close(reading)
    texts = [entry.happening.text for entry in store.entries()]
    expected = [f"{name} {number}" for name in ("process", "thread0", "thread1") for number in range(40)]
    assert sorted(texts) == sorted(["begun", *expected])


def test_a_look_in_one_thread_gives_no_lock_away_in_another(tmp_path, monkeypatch) -> None:
    """One thread writes and pauses, another looks at the file, and another process tries to write meanwhile."""
    store = Store(tmp_path, wait_seconds=60)
    store.append([note("begun")])
    add, within, go_on = stored_rows.add_happenings, threading.Event(), threading.Event()

    def pausing(*words) -> tuple[int, ...]:
        within.set()
        assert go_on.wait(30)
        return add(*words)

    def elsewhere() -> object:
        monkeypatch.setattr(stored_rows, "add_happenings", add)
        monkeypatch.setattr("optimiser.ledger.store._TURN", threading.Lock())
        return Store(tmp_path, wait_seconds=0.1).append([note("between")])

    monkeypatch.setattr(stored_rows, "add_happenings", pausing)
    with ThreadPoolExecutor(2) as threads:
        writing = threads.submit(store.append, [note("written")])
        assert within.wait(30)
        looking = threads.submit(store.entries)
        time.sleep(0.1)
        kind, _ = apart(elsewhere)
        go_on.set()
        assert kind is RecordInUseError
        assert writing.result() == (2,)
        assert len(looking.result()) == 2
