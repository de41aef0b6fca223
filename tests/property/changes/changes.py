"""Random happenings and changes of the folder, each with the job and the record with and without it.

Written apart from ``optimiser.changes``: here a moment is made by putting changes in, there by taking them out.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from hypothesis import strategies as st

from optimiser.model import events as h
from optimiser.model.events import Entry, Happening, entries
from optimiser.model.job import Job, Pot, Settings
from optimiser.model.quotes import Quote, Supplier
from tests.property.diagnosis.test_twin_groups import groups, results_of
from tests.small_route_jobs import TODAY

SUPPLIERS = (Supplier(id="alder", postage_minor=6, minimum_order_minor=8), Supplier(id="birch", postage_minor=4))
AT = datetime(2026, 11, 24, 19, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Change:
    """One change: something that happened, or the folder's job made over."""

    happening: Happening | None = None
    rewrite: Callable[[Job], Job] | None = None
    name: str = ""


@st.composite
def grouped(draw) -> Job:
    """Groups with shared causes, checks that borrow and one check for two; a free repair may lead.

    What is bought has postage on it, so a later attempt's part may ride with the first.
    """
    job = draw(groups())
    whole = Settings(currency="GBP", today=TODAY, check_must_gain=0.0, twin_strength=job.settings.twin_strength)
    quotes = tuple(
        Quote(id=f"quotes.csv:{line}", part="part", supplier=supplier, condition="new", ref=f"no-{line}",
              good_chance=0.8, price_minor=draw(st.sampled_from([2, 3, 5])), stock=draw(st.sampled_from([None, 1, 2])))
        for line, supplier in enumerate(["alder", "alder", "birch"], start=2)
    )  # fmt: skip
    pot = Pot(cap_minor=draw(st.sampled_from([10, 20, 40])), hour_worth_minor=0)
    return job.model_copy(update={"settings": whole, "pot": pot, "quotes": quotes, "suppliers": SUPPLIERS})


def moment(job: Job, changes: Sequence[Change]) -> tuple[Job, tuple[Entry, ...]]:
    """The folder's job and the record after these changes; numbers stay those of the whole list."""
    for change in changes:
        if change.rewrite is not None:
            job = change.rewrite(job)
    numbered = [(n, c.happening) for n, c in enumerate(changes, start=1) if c.happening is not None]
    return job, entries(numbered)


def without(job: Job, changes: Sequence[Change], left_out: int) -> tuple[Job, tuple[Entry, ...]]:
    """The same but for one change."""
    gone = Change()
    return moment(job, [gone if n == left_out else change for n, change in enumerate(changes)])


def some(job: Job, seed: int, most: int = 4) -> list[Change]:
    """A few changes that fit the job, happenings first, no two of the folder at the same place."""
    rng = random.Random(seed)
    happened = [_happened(job, rng) for _ in range(rng.randint(0, most - 1))]
    rewritten = _rewritten(job, rng)
    rng.shuffle(rewritten)
    return [c for c in happened if c is not None] + rewritten[: rng.randint(0 if happened else 1, 2)]


def _happened(job: Job, rng: random.Random) -> Change | None:
    common = {"at": AT, "source": "test"}
    fault = rng.choice(job.faults)
    ways: list[Callable[[], Happening]] = [
        lambda: h.Spend(**common, currency="GBP", amount_minor=rng.choice([3, 10, 25]), text="hire"),
        lambda: h.Note(**common, text="rain"),
        lambda: h.Refund(**common, currency="GBP", amount_minor=rng.choice([5, 20])),
        lambda: h.NewFault(**common, fault=rng.choice([fault.id, "fault-new"])),
    ]
    if fault.causes:
        cause = rng.choice(sorted(fault.causes))
        ways += [lambda: rng.choice([h.SeenToBe, h.SeenNotToBe])(**common, fault=fault.id, cause=cause)] * 2
    if fault.checks:
        check = rng.choice(fault.checks)
        result = rng.choice(results_of(check))
        ways += [
            lambda: h.CheckMade(**common, currency="GBP", fault=fault.id, check=check.id, result=result, cost_minor=2)
        ] * 3
    if fault.shared_causes:
        ways += [lambda: h.AfterCure(**common, fault=fault.id, works=rng.random() < 0.5)] * 2
    if job.quotes:
        quote = rng.choice(job.quotes)
        ways += [lambda: h.Purchase.of(quote, 1, currency="GBP", postage_minor=2, **common)] * 2
    cured = rng.random() < 0.5
    repair = rng.choice(fault.repairs)
    ways += [
        lambda: h.Fitting(**common, currency="GBP", fault=fault.id, repair=repair.id, cured=cured, price_minor=1)
    ] * 2
    return Change(rng.choice(ways)(), name="happened")


def _rewritten(job: Job, rng: random.Random) -> list[Change]:
    """One change at most for each place of the folder.

    Of two quotes that say the same but for what they ask, none goes while the other changes: which, nobody could tell.
    """
    cap = max(0, job.pot.cap_minor + rng.choice([-15, -8, 10, 30]))
    found = [Change(rewrite=lambda j: _with(j, "pot", cap_minor=cap), name="cap")] if cap != job.pot.cap_minor else []
    found.append(Change(rewrite=lambda j: _with(j, "settings", today=TODAY + timedelta(days=2)), name="day"))
    quotes = rng.sample(job.quotes, min(2, len(job.quotes)))
    price = rng.choice([0, 2, 5, 8, 14])
    if quotes and price != quotes[0].price_minor:
        found.append(Change(rewrite=lambda j: _with_price(j, quotes[0].id, price), name="price"))
    if len({(q.part, q.supplier, q.condition) for q in quotes}) > 1:
        found.append(Change(rewrite=lambda j: _without_quote(j, quotes[1].id), name="gone"))
    fault, asked = rng.randrange(len(job.faults)), rng.choice([0, 4, 20])
    if any(r.price_minor != asked for r in job.faults[fault].repairs):
        found.append(Change(rewrite=lambda j: _with_repair_price(j, fault, asked), name="repair"))
    return found


def _with(job: Job, table: str, **values: object) -> Job:
    return job.model_copy(update={table: getattr(job, table).model_copy(update=values)})


def _with_price(job: Job, name: str, price: int) -> Job:
    quotes = (q.model_copy(update={"price_minor": price}) if q.id == name else q for q in job.quotes)
    return job.model_copy(update={"quotes": tuple(quotes)})


def _without_quote(job: Job, name: str) -> Job:
    return job.model_copy(update={"quotes": tuple(q for q in job.quotes if q.id != name)})


def _with_repair_price(job: Job, place: int, price: int) -> Job:
    fault = job.faults[place]
    repairs = tuple(r.model_copy(update={"price_minor": price}) for r in fault.repairs)
    faults = list(job.faults)
    faults[place] = fault.model_copy(update={"repairs": repairs})
    return job.model_copy(update={"faults": tuple(faults)})
