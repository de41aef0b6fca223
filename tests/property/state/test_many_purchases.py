"""Very many purchases of one part are laid together, and the plan is as good as with each of them by itself."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser import service
from optimiser.model import events as h
from optimiser.model.job import Fault, Job, Pot, Repair, Settings
from optimiser.state import shelf_rows, stood
from tests.effort import examples

DAY = date(2026, 11, 24)
BOUGHT = st.lists(
    st.fixed_dictionaries(
        {
            "packs": st.integers(1, 3),
            "lead_days": st.sampled_from([0, 3, 9]),
            "good_chance": st.sampled_from([0.5, 0.9]),
        }
    ),
    min_size=1,
    max_size=9,
)


def job(wanted: int, attempts: int, faults: int) -> Job:
    repair = Repair(id="fit", cures={"worn": 0.9}, parts={"belt": wanted}, minutes=5)
    some = [
        Fault(id=f"fault-{number}", severity="minor", causes={"worn": 3}, repairs=(repair,)) for number in range(faults)
    ]
    head = Settings(today=DAY, currency="GBP", most_attempts=attempts, needed_by=DAY + timedelta(days=5))
    return Job(settings=head, pot=Pot(cap_minor=10_000), faults=tuple(some))


@examples(60, usual=6)
@given(st.integers(1, 2), st.integers(1, 2), st.integers(1, 2), BOUGHT)
def test_as_good_as_each_by_itself(wanted: int, attempts: int, faults: int, bought: list[dict[str, Any]]) -> None:
    told = [
        h.Purchase(
            at="2026-11-24T09:00:00Z", source="bought", currency="GBP", quote="", part="belt", supplier="ames",
            condition="new", pack=1, price_minor=5, **each,
        )
        for each in bought
    ]  # fmt: skip
    entries = h.entries(enumerate(told, start=1))
    bare = job(wanted, attempts, faults)
    together = service.plan(stood(bare, entries).job)
    with pytest.MonkeyPatch.context() as apart:
        apart.setattr(shelf_rows, "_attempts", lambda _: {"belt": 10**6})
        alone = stood(bare, entries).job
        each = service.plan(alone)
    assert sum(row.units for row in together.job.owned) == sum(row.units for row in alone.owned)
    for chance in {one["good_chance"] for one in bought}:
        laid = [row for row in together.job.owned if row.good_chance == chance]
        assert len(laid) <= 1 + 2 * faults * attempts
    mended = [plan.selection.levels["all-faults"] for plan in (together, each)]
    assert mended[0] >= mended[1]  # purchases alike are one batch: together they may do where two by chance would not
    if mended[0] == mended[1]:
        assert together.selection.levels == each.selection.levels
