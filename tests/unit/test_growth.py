"""Records that grew for years: what is asked of them is answered soon, and in bounded memory."""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest

from optimiser.ledger import Store
from optimiser.model import events as h
from optimiser.model.job import Fault, Job, Pot, Repair, Settings, Solve
from optimiser.planning import choose, draw_up
from optimiser.show import diary
from tests.unit.conftest import Run
from tests.unit.entries import shed

pytestmark = pytest.mark.long


def note(number: int) -> h.Note:
    return h.Note(at=shed.AT, source="noted", text=f"note {number}")


def relay() -> h.Purchase:
    return h.Purchase(
        at=shed.AT, source="bought", currency="GBP", quote="quotes.csv:2", part="relay", supplier="cole",
        condition="new", packs=1, pack=1, price_minor=1, good_chance=0.9,
    )  # fmt: skip


def grown(folder: Path, entries: int, purchases: int) -> Path:
    shed.write(folder)
    every = entries // purchases
    Store(folder).append([note(n) if n % every else relay() for n in range(entries)])
    return folder


TIMES_THE_PEER = 5


def of_the_processor() -> float:
    """Seconds that the processes took that were started here and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def called(*words: object) -> tuple[float, str]:
    """Seconds of the processor, and what was said."""
    before = of_the_processor()
    done = subprocess.run(
        [sys.executable, "-m", "optimiser", *map(str, words)], check=True, capture_output=True, encoding="utf-8"
    )
    return of_the_processor() - before, done.stdout


def test_a_thousand_purchases_of_one_part(tmp_path: Path) -> None:
    """Two seconds on a quiet machine; on any, a few times what a plan takes of a record with nothing in it."""
    folder, peer = grown(tmp_path / "grown", 4_000, 1_000), grown(tmp_path / "peer", 1, 1)
    most = TIMES_THE_PEER * called("plan", peer)[0]
    for verb, *words in (("plan",), ("spent", "1", "x"), ("moved", "1")):
        seconds, said = called(verb, folder, *words)
        assert "Next: " in said or "to spend" in said
        assert seconds < most


def test_a_long_diary_is_shown_page_by_page(tmp_path: Path) -> None:
    folder = grown(tmp_path / "grown", 20_000, 2)
    process = subprocess.Popen(
        [sys.executable, "-m", "optimiser", "diary", str(folder)], stdout=subprocess.PIPE, encoding="utf-8"
    )
    assert process.stdout is not None
    first = [process.stdout.readline() for _ in range(300)]
    before = of_the_processor()
    process.stdout.close()
    process.kill()
    process.wait()
    assert any("note 250" in line for line in first)
    assert of_the_processor() - before < 5


@pytest.mark.parametrize("page", [1, 7, 500])
def test_every_entry_is_on_some_page(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch, page: int) -> None:
    folder = grown(tmp_path / "grown", 20, 2)
    monkeypatch.setattr(diary, "PAGE", page)
    _, out, _ = run("diary", folder)
    assert [f"note {n}" for n in range(20) if n % 10] == [
        f"note {word}" for line in out.splitlines() for word in [line.partition("note: note ")[2].split(" ")[0]] if word
    ]
    assert "less 0.02 in it" in " ".join(out.split())


EIGHT_TIMES, LITTLE_MORE = 8, 1.6


def drawn(faults: int) -> float:
    """Seconds of the processor that a choice takes to be explained and certified."""
    mend = Repair(id="mend", cures={"worn": 0.9}, price_minor=900)
    odds = {"worn": 1.0, "loose": 2.0}
    horns = (Fault(id=f"horn-{n}", severity="minor", causes=odds, repairs=(mend,)) for n in range(faults))
    head = Settings(currency="GBP", today=shed.TODAY, fallbacks=False)
    job = Job(settings=head, pot=Pot(cap_minor=5_000), solve=Solve(seconds=0.5), faults=tuple(horns))
    pick, taken = choose.chosen(job, None, lambda _: None), list[float]()
    for _ in range(3):
        began = time.process_time()
        draw_up.drawn_up(pick)
        taken.append(time.process_time() - began)
    return min(taken)


def test_a_plan_of_eight_times_as_many_faults_is_drawn_up_in_eight_times_the_time() -> None:
    """All faults gone through once a fault, by beliefs, notices or the witness, made it twenty times."""
    assert drawn(2_000) < EIGHT_TIMES * LITTLE_MORE * drawn(250)
