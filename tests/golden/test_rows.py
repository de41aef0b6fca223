"""Every constraint and level as text: a wrong sign, a lost term or a changed right-hand side shows as a changed line.

Totals can hide a wrong sign; a stored row cannot. After a change that is meant, write the files anew and read the
difference before it is committed:

    REWRITE_GOLDEN=1 python -m pytest tests/golden

Columns carry what they stand for, not their running number; terms are sorted by that name. Money is in pence, time
with its worth in sixtieths of them, each divided by what all factors of its row are multiples of.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from optimiser.model.candidates import Offer, Proposal, once
from optimiser.model.job import Fault, Job, Part, Repair
from optimiser.model.option import Line
from optimiser.model.quotes import Supplier
from optimiser.planning import options
from optimiser.solver import formulation
from optimiser.solver.program import Mix
from tests import tiny_job
from tests.tiny_job import VARIANTS, but

HERE = Path(__file__).parent
SIGNS = {-1: "<=", 0: "=", 1: ">="}

BULB = but(tiny_job.NEW, id="quotes.csv:4", part="bulb", price_minor=150, pack=2)
SHARED = but(
    VARIANTS["packs"],
    faults=(*VARIANTS["packs"].faults, Fault(id="glow", severity="minor",
                                             repairs=(Repair(id="bulb", chance=0.5, parts={"bulb": 1}),))),
    quotes=(*VARIANTS["packs"].quotes, BULB),
)  # fmt: skip
JOBS: Mapping[str, Job] = {
    "one_route": VARIANTS["workshop"],
    "stock": VARIANTS["stock"],
    "enough_packs": SHARED,
    "packs_for_fault": SHARED,
    "order_for": SHARED,
    "most_suppliers": VARIANTS["most_suppliers"],
    "packs_in_order": SHARED,
    "minimum_order": but(SHARED, suppliers=(Supplier(id="alder", minimum_order_minor=1500),)),
    "free_over": VARIANTS["free_over"],
    "waiver_in_order": VARIANTS["free_over"],
    "opened_for": VARIANTS["access"],
    "opened_by_owner_for": VARIANTS["access"],
    "never_over": but(
        VARIANTS["access"],
        quotes=(but(tiny_job.NEW, deposit_minor=200, pack=2), tiny_job.USED),
        suppliers=(Supplier(id="alder", postage_minor=450, free_over_minor=1000),),
    ),
    "within_hours": but(VARIANTS["access"], time=VARIANTS["hours"].time,
                        suppliers=(Supplier(id="alder", trip_minutes=30),)),
    "time_worth": VARIANTS["profit"],
    "level": but(VARIANTS["safety"], parts=(Part(id="disc", renew_in=2),)),
    "level_profit": VARIANTS["profit"],
    "level_deposit": VARIANTS["deposit"],
    "room_to_rival": VARIANTS["base"],
    "room_in_pot": VARIANTS["base"],
}  # fmt: skip


def _routes(job: Job) -> Offer:
    """Every option tried once, and for each fault a route that first makes a check and then decides what to buy.

    The horn's is sure of a new disc and may want a used one; the second horn's is sure of nothing, may order from alder
    or birch, and leaves birch's minimum to the horn's used disc; either may come back for one more used disc.
    """
    offer = options.build(job)
    bare = replace(once(offer.options[0]), access=frozenset(), own_access=frozenset(), read=lambda: None)
    figures = {"chance": 0.75, "net_minor": 420.5, "cash_minor": 700, "expected_minutes": 12.25, "minutes": 40}
    new = Line(quote=tiny_job.NEW, units=1, wanted=1)
    used = Line(quote=job.quotes[1], units=1, wanted=1)
    told: Proposal = replace(
        bare, fault="horn", first_step=("horn", "check", "tone"), key=("horn", "check"), certain=(new,),
        suppliers=frozenset({"alder", "birch"}), other_packs={used.quote.id: 2}, **figures,
    )  # fmt: skip
    unsure: Proposal = replace(
        bare, fault="second-horn", first_step=("second-horn", "check", "tone"), key=("second-horn", "check"),
        certain=(), suppliers=frozenset({"alder", "birch"}), relies_on=frozenset({"birch"}),
        other_packs={used.quote.id: 1}, **figures,
    )  # fmt: skip
    return replace(offer, routes=(*(once(option) for option in offer.options), told, unsure))


def _ahead(job: Job) -> Offer:
    """As above, and the horn's route buys a used disc from birch ahead, where nothing else of it comes from."""
    offer = _routes(job)
    *others, told, unsure = offer.proposals
    used = Line(quote=job.quotes[1], units=1, wanted=1)
    later = replace(told, certain=(*told.certain, used), ahead=frozenset({used.quote.id}), other_packs={})
    return replace(offer, routes=(*others, later, unsure))


WITH_ROUTES = but(
    VARIANTS["packs"],
    quotes=(tiny_job.NEW, but(tiny_job.USED, stock=2)),
    suppliers=(Supplier(id="alder", postage_minor=450), Supplier(id="birch", minimum_order_minor=500, trip_minutes=15)),
    time=VARIANTS["hours"].time,
)
ROUTES = {
    "routes_" + kind: WITH_ROUTES
    for kind in ("one_route", "stock", "order_for", "certain_order_for", "certain_order", "certain_in_order",
                 "minimum_relied_on", "packs_in_order", "never_over", "within_hours", "level")
}  # fmt: skip
WITH_AHEAD = but(WITH_ROUTES, time=VARIANTS["base"].time)
"""What only routes bring: orders that are not sure, minimums relied on, packs beside the certain lines."""
EVERY = {**JOBS, **ROUTES, "routes_ahead_rides": WITH_AHEAD}
SWITCHES = {
    "order_for": "order",
    "certain_order_for": "certain",
    "opened_for": "opened",
    "opened_by_owner_for": "own_opened",
}
"""What the columns are called that a kind of row switches on."""


class Named:
    """The program of a job with a name for every column, taken from where the formulation makes it."""

    def __init__(self, job: Job, patch: pytest.MonkeyPatch) -> None:
        self.names: dict[str, str] = {}
        switched_on = formulation._switched_on

        def _switched_on(mix: Mix, name: str, users: Mapping[str, object], switches: Mapping[str, object]) -> None:
            self.names |= {switches[used].name: f"{SWITCHES[name]}[{used}]" for used in users}
            switched_on(mix, name, users, switches)

        patch.setattr(formulation, "_switched_on", _switched_on)
        made = {id(WITH_ROUTES): _routes, id(WITH_AHEAD): _ahead}
        self.mix = formulation.build(job, made.get(id(job), options.build)(job))
        patch.undo()
        self.names |= {column.name: f"take[{'/'.join(key)}]" for key, column in self.mix.take.items()}
        self.names |= {column.name: f"packs[{quote}]" for quote, (column, _) in self.mix.pack_columns.items()}
        self.names |= {level.column.name: f"level[{level.name}]" for level in [*self.mix.stages, *self.mix.ties]}
        for what in ("unspent", "room", "rival"):
            self.names[getattr(self.mix, what).name] = what
        self._by_their_rows()

    def _by_their_rows(self) -> None:
        """Columns that only a row knows: the waiver and the worth of time."""
        for kind, row in self.rows():
            for column in row:
                if column.name not in self.names and kind in ("waiver_in_order", "time_worth"):
                    self.names[column.name] = {"waiver_in_order": "waived", "time_worth": "time_worth"}[kind]

    def rows(self) -> list[tuple[str, object]]:
        """Every row of the program itself with its kind: the name without its running number."""
        rows = self.mix.problem.constraints
        rows = rows() if callable(rows) else rows
        rows = rows.values() if hasattr(rows, "values") else rows
        return [(re.sub(r"_d?\d+$", "", row.name), row) for row in rows]

    def written(self, kind: str) -> str:
        lines = [f"{kind}: {self._row(row)}" for name, row in self.rows() if name == kind]
        return "\n".join(lines) + "\n"

    def _row(self, row: object) -> str:
        terms = sorted((self.names[column.name], _whole(factor)) for column, factor in row.items())
        left = " ".join(f"{'-' if factor < 0 else '+'} {abs(factor)} {name}" for name, factor in terms)
        return f"{left} {SIGNS[row.sense]} {_whole(-row.constant)}"

    def bounds(self) -> str:
        """What the rows do not say: the levels' order, direction and span, and the bounds of packs."""
        lines = [
            f"{'maximise' if level.maximise else 'minimise'} {level.name}, "
            f"{_whole(level.low)} to {_whole(level.high)} by {level.step}"  # PuLP 4 counts in floats
            for level in [*self.mix.stages, *self.mix.ties]
        ]
        lines += [f"packs[{quote}] at most {most}" for quote, (_, most) in self.mix.pack_columns.items()]
        return "\n".join(lines) + "\n"


def _whole(number: float) -> int:
    assert number == round(number), "the program has whole coefficients only"
    return round(number)


def compare(name: str, text: str) -> None:
    stored = HERE / f"{name}.txt"
    if os.environ.get("REWRITE_GOLDEN"):
        stored.write_text(text, encoding="utf-8")
    assert text == stored.read_text(encoding="utf-8")


def kind_of(name: str) -> str:
    return "level" if "level" in name else name.removeprefix("routes_")


@pytest.mark.parametrize("name", EVERY)
def test_the_rows_of_a_constraint_are_those_stored(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    written = Named(EVERY[name], monkeypatch).written(kind_of(name))
    assert written.startswith(f"{kind_of(name)}: "), "the job has no such row"
    compare(name, written)


@pytest.mark.parametrize("name", ["level", "level_profit", "free_over", "minimum_order", "enough_packs"])
def test_the_levels_come_in_the_order_stored(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    compare(f"order_of_{name}", Named(JOBS[name], monkeypatch).bounds())


def test_no_row_of_the_program_is_without_a_stored_example(monkeypatch: pytest.MonkeyPatch) -> None:
    kinds = {kind for job in EVERY.values() for kind, _ in Named(job, monkeypatch).rows()}
    assert kinds == {kind_of(name) for name in EVERY}
