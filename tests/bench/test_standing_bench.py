"""How long the job as it stands takes to be read and folded, beside a plain reading of the same rows, in the same run.

Run ``pytest tests/bench/test_standing_bench.py --benchmark-only``. Times are shown, never asserted; the ratio is in
``extra_info``. The peer reads the rows with SQLite and ``json``, adds the money up and counts pieces and findings: the
least that anything could do with them.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import pytest

from optimiser import job_folder
from optimiser.ledger import Store
from optimiser.model import events as h
from optimiser.model.job import Job
from optimiser.state import stood
from tests.unit.state.scene import AT, MONEY, SAID

HAPPENINGS = 10_000
MARIGOLD = Path(__file__).parents[2] / "examples" / "marigold"
PLAIN: list[float] = []
"""The plain reading's seconds: what the reading after it is measured against."""


def evenings(job: Job) -> list[h.Happening]:
    """Ten thousand happenings on the full example, all invented: parts bought, fitted, kept, back again, and so on."""
    made: list[h.Happening] = []
    repairs = [(fault, repair) for fault in job.faults for repair in fault.repairs if repair.parts]
    checks = [(fault, check, result) for fault in job.faults for check in fault.checks for result in check.results]
    quotes = {quote.part: quote for quote in reversed(job.quotes)}
    turn = 0
    while len(made) < HAPPENINGS:
        fault, repair = repairs[turn % len(repairs)]
        pieces = []
        for part, units in repair.parts.items():
            if part in quotes:
                quote = quotes[part]
                packs = quote.packs_for(units)
                made.append(h.Purchase.of(quote, packs, currency="GBP", **SAID, postage_minor=490))
                pieces.append(fitted(made[-1], units, len(made), "kept" if turn % 3 else "stays-on"))
        looked, check, result = checks[turn % len(checks)]
        made += [
            h.CheckMade(**MONEY, fault=looked.id, check=check.id, result=result, cost_minor=50),
            h.Fitting(**MONEY, fault=fault.id, repair=repair.id, pieces=tuple(pieces), cured=turn % 3 == 0),
            h.Refund(**MONEY, amount_minor=100 + turn % 7, text="came by post"),
            h.DepositReturned(**MONEY, amount_minor=turn % 5 * 100),
            h.NewFault(**SAID, fault=fault.id, title="back again"),
            h.Note(**SAID, text="a wet evening"),
        ]
        turn += 1
    later = (each.model_copy(update={"at": AT + timedelta(minutes=n)}) for n, each in enumerate(made[:HAPPENINGS]))
    return list(later)


def fitted(purchase: h.Purchase, units: int, number: int, then: str) -> h.FittedPiece:
    fields = {"part": purchase.part, "condition": purchase.condition, "good_chance": purchase.good_chance}
    return h.FittedPiece.model_validate(
        fields | {"units": units, "quote": f"bought:{number}", "bought": number, "then": then}
    )


@pytest.fixture(scope="module")
def job() -> Job:
    return job_folder.job(MARIGOLD, date(2026, 11, 24))


@pytest.fixture(scope="module")
def store(tmp_path_factory, job) -> Store:
    made = Store(tmp_path_factory.mktemp("long"))
    made.append(evenings(job))
    return made


def plainly(store: Store) -> tuple[int, int]:
    """The money drawn and the purchases, straight from the rows."""
    with closing(sqlite3.connect(store.path)) as connection:
        rows = connection.execute("SELECT body FROM happenings ORDER BY number").fetchall()
    spent, count = 0, Counter[str]()
    for (body,) in rows:
        happened = json.loads(body)
        kind = happened["kind"]
        count[kind] += 1
        if kind == "purchase":
            pieces = happened["packs"] * happened["pack"]
            spent += happened["packs"] * happened["price_minor"] + happened["postage_minor"]
            spent += pieces * happened["deposit_minor"]
        elif kind in ("refund", "deposit-returned"):
            spent -= happened["amount_minor"]
        else:
            spent += happened.get("cost_minor", 0) + happened.get("price_minor", 0)
    return spent, count["purchase"]


@pytest.mark.parametrize("way", ["plainly", "read", "read-and-folded"])
def test_10000_happenings_as_they_stand(benchmark, store, job, way) -> None:
    benchmark.group = f"the job as it stands after {HAPPENINGS} happenings"
    call = {
        "plainly": lambda: plainly(store),
        "read": store.entries,
        "read-and-folded": lambda: stood(job, store.entries()),
    }[way]
    answer = benchmark.pedantic(call, rounds=10, warmup_rounds=1)
    seconds = benchmark.stats.stats.median
    if way == "plainly":
        PLAIN.append(seconds)
    elif PLAIN:
        benchmark.extra_info["over_plain_reading"] = round(seconds / PLAIN[0], 1)
    if way == "read-and-folded":
        assert answer.unfit == ()
        assert answer.job.pot.recorded_minor == plainly(store)[0]
        assert len(answer.job.on_order) + len(answer.job.owned) > 100
