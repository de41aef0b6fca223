"""The job as it stands against a plain retelling of its record, whatever happens in whatever order.

Happenings go through the real store in a folder of its own. Now and then the job is planned, certified as always, and
the money balances: cap = spent + promised + held back + unspent.
"""

from __future__ import annotations

import shutil
import tempfile
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from optimiser import service
from optimiser.ledger import Store
from optimiser.model import events as h
from optimiser.model.evidence import Cured, FailedAttempt, Finding, ItIs, ItIsNot
from optimiser.model.job import SOMETHING_ELSE, Check, Fault, Job, Owned, Part, Pot, Repair, Settings
from optimiser.model.quotes import Quote, Supplier
from optimiser.state import Standing, stood
from tests.effort import examples
from tests.unit.state.scene import MONEY, SAID, TODAY

from .told_again import Told

CHECK = Check(id="look", results={"seen": {"a": 0.9, "b": 0.2}})
TWIN = Fault(
    id="left", severity="minor", twin="pair", causes={"a": 1.0, "b": 2.0}, something_else=0.1, checks=(CHECK,),
    repairs=(Repair(id="swap", cures={"a": 0.9}, parts={"pad": 2}), Repair(id="clean", chance=0.5, price_minor=3)),
)  # fmt: skip
FAULTS = (
    TWIN,
    TWIN.model_copy(update={"id": "right", "causes": {"a": 3.0, "b": 6.0}}),
    Fault(id="horn", severity="major", repairs=(Repair(id="swap", chance=0.8, parts={"pad": 1, "bolt": 1}),)),
)
QUOTES = tuple(
    Quote(id=f"quotes.csv:{n}", part=part, supplier=supplier, condition=condition, price_minor=price, pack=pack,
          stock=stock, deposit_minor=deposit, good_chance=good, ref=ref)
    for n, part, supplier, condition, price, pack, stock, deposit, good, ref in (
        (2, "pad", "cole", "new", 30, 1, 9, 5, 0.9, ""),
        (3, "pad", "odell", "refurbished", 20, 2, None, 0, 0.7, ""),
        (4, "bolt", "cole", "new", 10, 1, 2, 2, 0.95, ""),
        (5, "bolt", "odell", "salvage", 6, 1, 1, 0, 0.6, "b"),
        (6, "bolt", "odell", "salvage", 6, 1, 1, 0, 0.6, "b"),
        (7, "pad", "odell", "new", 40, 4, None, 3, 0.9, ""),
    )
)  # fmt: skip
OWN = (Owned(part="pad", units=2, condition="salvage", good_chance=0.4),
       Owned(part="bolt", units=1, condition="new", good_chance=0.9))  # fmt: skip
JOB = Job(
    settings=Settings(currency="GBP", today=TODAY, most_attempts=2),
    pot=Pot(cap_minor=400, purchase_minor=100, spent_minor=7, hold_back_minor=11),
    parts=(Part(id="pad", renew_in=2),),
    owned=OWN,
    faults=FAULTS,
    quotes=QUOTES,
    suppliers=(Supplier(id="cole", postage_minor=4), Supplier(id="odell")),
)
FOLDER = {
    "currency": "GBP",
    "stock": {quote.id: quote.stock for quote in QUOTES},
    "price": {quote.id: quote.price_minor for quote in QUOTES},
    "work": {(fault.id, repair.id): repair.price_minor for fault in FAULTS for repair in fault.repairs},
    "rows": {quote.id: (quote.part, quote.supplier, quote.condition, quote.ref, quote.pack) for quote in QUOTES},
    "causes": {"left": {"a": 1.0, "b": 2.0}, "right": {"a": 3.0, "b": 6.0}, "horn": {}},
    "repairs": {(f, r): p for f in ("left", "right") for r, p in (("swap", {"pad"}), ("clean", set()))}
    | {("horn", "swap"): {"pad", "bolt"}},
    "results": {(fault, "look"): {"seen", "not-seen"} for fault in ("left", "right")},
    "twins": {"left": "pair", "right": "pair", "horn": ""},
    "own": (("pad", "salvage", 2), ("bolt", "new", 1)),
}
"""The same, as the retelling is told of it."""
names = st.sampled_from(["left", "right", "horn", "leak"])
repairs = st.sampled_from(["swap", "swap", "clean", "pray"])
amounts, costs = st.integers(0, 60), st.sampled_from([0, 3, 9])
currencies = st.sampled_from(["GBP"] * 9 + ["EUR"])
fates = st.sampled_from(["stays-on", "kept", "kept", "sent-back"])


class Standings(RuleBasedStateMachine):
    """``written`` is everything in the record; ``told`` what a plain retelling makes of it."""

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.store = Store(self.folder)
        self.written: list[h.Happening] = []

    def teardown(self) -> None:
        shutil.rmtree(self.folder)

    def write(self, *happenings: h.Happening) -> None:
        self.store.append(happenings)
        self.written += happenings

    @property
    def told(self) -> Told:
        return Told(FOLDER, self.written)

    @property
    def standing(self) -> Standing:
        return stood(JOB, self.store.entries())

    @rule(fault=names, check=st.sampled_from(["look", "look", "smell"]), result=st.sampled_from(["seen", "not-seen"]),
          cost=amounts, currency=currencies)  # fmt: skip
    def look(self, fault, check, result, cost, currency) -> None:
        self.write(h.CheckMade(**SAID, fault=fault, check=check, result=result, cost_minor=cost, currency=currency))

    @rule(fault=names, cause=st.sampled_from(["a", "b", "c", SOMETHING_ELSE]),
          kind=st.sampled_from([h.SeenToBe, h.SeenNotToBe]))  # fmt: skip
    def see(self, fault, cause, kind) -> None:
        self.write(kind(**SAID, fault=fault, cause=cause))

    @rule(quote=st.sampled_from(QUOTES), packs=st.integers(1, 3), currency=currencies, postage=amounts,
          ref=st.sampled_from([None, None, "other"]))  # fmt: skip
    def buy(self, quote, packs, currency, postage, ref) -> None:
        """The same quote again and again, at times another piece by its reference; two rows are alike in everything."""
        named = quote if ref is None else quote.model_copy(update={"ref": ref})
        self.write(h.Purchase.of(named, packs, currency=currency, **SAID, postage_minor=postage))

    @rule(data=st.data(), fault=names, repair=repairs, cured=st.booleans(), price=amounts)
    def fit(self, data, fault, repair, cured, price) -> None:
        """Pieces from rows that lie there, most often as many as there are, and one from nowhere at times."""
        rows = self.standing.job.shelf
        pieces = []
        for name in data.draw(st.lists(st.sampled_from(sorted(rows)), max_size=2, unique=True)) if rows else ():
            row = rows[name]
            units = data.draw(st.sampled_from([1, row.units, row.units, row.units + 1]))
            named = data.draw(st.sampled_from([name, name, next(iter(row.came_from), name)]))
            pieces.append(
                h.FittedPiece(
                    part=row.part, units=units, quote=named, bought=row.bought if named == name else None,
                    condition=row.condition, good_chance=row.good_chance, then=data.draw(fates),
                )
            )  # fmt: skip
        made = h.Fitting(**MONEY, fault=fault, repair=repair, pieces=tuple(pieces), cured=cured, price_minor=price)
        self.write(made)

    @rule(part=st.sampled_from(["pad", "bolt"]), units=st.integers(1, 3), data=st.data())
    def send_back(self, part, units, data) -> None:
        self.write(h.SentBack(**SAID, part=part, units=units, bought=self.number(data) or 1))

    @rule(kind=st.sampled_from([h.Refund, h.DepositReturned]), amount=amounts, currency=currencies, data=st.data())
    def money_back(self, kind, amount, currency, data) -> None:
        self.write(kind(**SAID, currency=currency, amount_minor=amount, bought=self.number(data)))

    @rule(amount=amounts, currency=currencies)
    def spend(self, amount, currency) -> None:
        self.write(h.Spend(**SAID, currency=currency, amount_minor=amount, text="sundries"))

    @rule(fault=names)
    def see_again(self, fault) -> None:
        self.write(h.NewFault(**SAID, fault=fault, title="seen"))

    @rule(fault=names)
    def come_right(self, fault) -> None:
        self.write(h.CameRight(**SAID, fault=fault))

    @rule(fault=names)
    def tested(self, fault) -> None:
        self.write(h.LicensedTest(**SAID, fault=fault))

    @rule(fault=names)
    def leave(self, fault) -> None:
        self.write(h.LeftAsItIs(**SAID, fault=fault))

    @rule(quote=st.sampled_from(QUOTES[:3]), was=st.sampled_from([10, 20, 30]), now=amounts, currency=currencies)
    def correct_price(self, quote, was, now, currency) -> None:
        self.write(
            h.PriceCorrected(**SAID, quote=quote.id, part=quote.part, supplier=quote.supplier,
                             condition=quote.condition, currency=currency, was_minor=was, now_minor=now)
        )  # fmt: skip

    @rule(
        fault=names, repair=repairs, was=st.sampled_from([0, 3, 9]), now=st.sampled_from([0, 3, 9]), currency=currencies
    )
    def correct_work(self, fault, repair, was, now, currency) -> None:
        self.write(
            h.WorkPriceCorrected(**SAID, fault=fault, repair=repair, currency=currency, was_minor=was, now_minor=now)
        )

    @rule(fault=names, cause=st.sampled_from(["a", "b", "c"]), now=st.sampled_from([0.5, 1.0, 4.0]))
    def correct_odds(self, fault, cause, now) -> None:
        self.write(h.OddsCorrected(**SAID, fault=fault, cause=cause, was=1.0, now=now))

    @precondition(lambda self: any(True for _ in h.standing(self.store.entries())))
    @rule(data=st.data())
    def strike(self, data) -> None:
        open_ones = [entry.number for entry in h.standing(self.store.entries())]
        number = data.draw(st.sampled_from([open_ones[-1], *open_ones]))
        self.store.strike(SAID["at"], "strike", number=number)
        self.written.append(h.Strike(at=SAID["at"], source="strike", strikes=number))

    @rule()
    def plan(self) -> None:
        """Certified, or it would not come; nothing is planned that is cured; the money balances."""
        job = self.standing.job
        plan = service.plan(job)
        spent = 100 + 7 + self.told.spent
        assert plan.purse.committed_minor == spent
        assert plan.purse.cap_minor == spent + plan.purse.cash_minor + 11 + plan.purse.unspent_minor
        assert {choice.fault.id for choice in plan.choices} == {fault.id for fault in job.faults}
        for route in plan.selection.routes:
            used = {line.quote.id for step in route.attempts for line in step.option.lines}
            assert not used & set(job.tried_on.get(route.fault, ()))
            assert route.fault not in self.told.left

    def number(self, data) -> int | None:
        """Of a purchase, at times of none or of what is none."""
        bought = [n for n, each in enumerate(self.written, start=1) if isinstance(each, h.Purchase)]
        return data.draw(st.sampled_from([*bought, *bought, None, len(self.written) + 1]))

    @invariant()
    def stands_as_told(self) -> None:
        standing, told = self.standing, self.told
        job = standing.job
        assert job.pot.recorded_minor == told.spent
        assert job.pot.cap_minor == job.pot.committed_minor + job.pot.hold_back_minor + job.pot.remaining_minor
        assert {fault.id for fault in job.closed} == told.closed
        assert {fault.id for fault in job.faults} == told.faults.keys() - told.closed
        assert {due.bought: due.money_minor for due in job.deposits_due} == told.due
        assert {some.bought: some.units for some in job.on_order} == told.on_order
        assert lying(job) == told.lying()
        assert dict(job.left) == told.left
        assert {quote.id: quote.stock for quote in job.quotes} == told.stock
        assert {quote.id: quote.price_minor for quote in job.quotes} == told.price
        assert seen(job) == told.evidence()
        assert {one.number for one in standing.job.unfit} == told.unfit
        assert tried_quotes(job) == told.tried_quotes()
        every = (*job.faults, *job.closed)
        assert {(fault.id, one.id): one.price_minor for fault in every for one in fault.repairs} == told.work
        for fault in every:
            assert dict(fault.causes) == pytest.approx(told.odds.get(fault.id, {}))


def lying(job: Job) -> dict[tuple[str, str, str | None], int]:
    found = Counter()
    for row in job.owned:
        found[row.part, row.condition, row.kept_from] += row.units
    return dict(found)


def seen(job: Job) -> dict[str, list[tuple[object, ...]]]:
    words = {Finding: "found", ItIs: "is", ItIsNot: "is-not", FailedAttempt: "failed", Cured: "cured"}
    found: dict[str, list[tuple[object, ...]]] = {}
    for fault, entries in job.seen.items():
        for entry in entries:
            if isinstance(entry, FailedAttempt | Cured):
                told = (entry.repair, tuple((piece.name, piece.good) for piece in entry.pieces))
            else:
                told = (entry.check, entry.result) if isinstance(entry, Finding) else (entry.cause,)
            found.setdefault(fault, []).append((words[type(entry)], *told))
    return found


def tried_quotes(job: Job) -> dict[str, set[str]]:
    ids = {quote.id for quote in job.quotes}
    found = {fault: ids & set(names) for fault, names in job.tried_on.items()}
    return {fault: quotes for fault, quotes in found.items() if quotes}


Standings.TestCase.settings = examples(25, usual=3, stateful_step_count=20)
TestStandings = pytest.mark.long(Standings.TestCase)


class LongStandings(Standings):
    """The same, longer: ``pytest -m slow tests/property/state``."""


LongStandings.TestCase.settings = settings(max_examples=400, stateful_step_count=40, deadline=None)
TestLongStandings = pytest.mark.slow(LongStandings.TestCase)
