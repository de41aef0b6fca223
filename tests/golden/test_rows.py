"""Every constraint and level as text: a wrong sign, a lost term or a changed right-hand side shows as a changed line.

Totals can hide a wrong sign; a stored row cannot. After a change that is meant, write the files anew and read the
difference before it is committed:

    REWRITE_GOLDEN=1 python -m pytest tests/golden

Columns carry what they stand for, not their running number; terms are sorted by that name. Money is in pence.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path

import pytest

from optimiser import options
from optimiser.mix import formulation
from optimiser.mix.program import Mix
from optimiser.model.job import Fault, Job, Part, Repair
from optimiser.model.quotes import Supplier
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
    "one_option": VARIANTS["workshop"],
    "stock": VARIANTS["stock"],
    "enough_packs": SHARED,
    "order_for": SHARED,
    "packs_in_order": SHARED,
    "minimum_order": but(SHARED, suppliers=(Supplier(id="alder", minimum_order_minor=1500),)),
    "free_over": VARIANTS["free_over"],
    "waiver_in_order": VARIANTS["free_over"],
    "opened_for": VARIANTS["access"],
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


class Named:
    """The program of a job with a name for every column, taken from where the formulation makes it."""

    def __init__(self, job: Job, patch: pytest.MonkeyPatch) -> None:
        self.names: dict[str, str] = {}
        self.opened = 0
        placed, opened = formulation.order_placed, formulation._opened

        def order_placed(mix: Mix) -> dict[str, object]:
            orders = placed(mix)
            self.names |= {column.name: f"order[{supplier}]" for supplier, column in orders.items()}
            return orders

        def _opened(mix: Mix, naming: list[object]) -> object:
            column = opened(mix, naming)
            self.opened += 1
            self.names[column.name] = f"opened[{self.opened}]"
            return column

        patch.setattr(formulation, "order_placed", order_placed)
        patch.setattr(formulation, "_opened", _opened)
        self.mix = formulation.build(job, options.build(job))
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
            f"{'maximise' if level.maximise else 'minimise'} {level.name}, {level.low} to {level.high}"
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


@pytest.mark.parametrize("name", JOBS)
def test_the_rows_of_a_constraint_are_those_stored(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    kind = "level" if name.startswith("level") else name
    written = Named(JOBS[name], monkeypatch).written(kind)
    assert written.startswith(f"{kind}: "), "the job has no such row"
    compare(name, written)


@pytest.mark.parametrize("name", ["level", "level_profit", "free_over", "minimum_order", "enough_packs"])
def test_the_levels_come_in_the_order_stored(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    compare(f"order_of_{name}", Named(JOBS[name], monkeypatch).bounds())


def test_no_row_of_the_program_is_without_a_stored_example(monkeypatch: pytest.MonkeyPatch) -> None:
    kinds = {kind for job in JOBS.values() for kind, _ in Named(job, monkeypatch).rows()}
    assert kinds == {name for name in JOBS if not name.startswith("level_")}
