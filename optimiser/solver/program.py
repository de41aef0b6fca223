"""The program under construction: its columns, rows and levels, and what every part of the formulation needs of it."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import pulp

from optimiser.model.candidates import Offer, Proposal
from optimiser.model.job import Job
from optimiser.model.plan import PROFIT
from optimiser.model.quotes import Quote, Supplier

Variable = Any
Expression = Any
Values = dict[str, int]
"""The whole columns by name."""

HALF = 0.5
GREATEST_FACTOR_BITS = 20
"""Factors of rows and objectives are scaled down to so many bits: solvers keep to tolerances that are absolute."""
GREATEST_FACTOR = 2**40
"""Beyond this a whole unit is lost in solvers' tolerances (1e-8) once factors are scaled down."""
WIDEST_OBJECTIVE = 10**7
"""Tie-breaks are solved together while the product of their spans stays below this, so that floats keep them apart."""


@dataclass
class Level:
    """One objective in the order of preference: a column held equal to what it measures, in its ``unit``.

    Once it is solved its column is bounded by the best value, so later levels cannot give it up. Its values are whole
    multiples of ``step``, ``reach`` of them at most; ``counted`` are the routes that can matter to it (None: all).
    """

    name: str
    column: Variable
    measures: Expression
    maximise: bool
    low: int
    high: int
    step: int = 1
    unit: int = 1
    counted: frozenset[tuple[str, ...]] | None = None

    @property
    def reach(self) -> int:
        """Number of different values, at most."""
        return (self.high - self.low) // self.step + 1

    def at_least(self, value: int) -> None:
        """Bound the column from below, half a step slack: values are whole steps, so only solvers' dust gets in.

        Without it HiGHS called feasible what-ifs infeasible: rows of millions of millionths reach its tolerance.
        """
        self.column.lowBound = (value - self.step * HALF) / self.unit

    def at_most(self, value: int) -> None:
        """Bound the column from above, half a step slack."""
        self.column.upBound = (value + self.step * HALF) / self.unit

    def no_worse_than(self, value: int) -> None:
        """Bound the column so that nothing worse than this is left."""
        (self.at_least if self.maximise else self.at_most)(value)

    def holds(self, value: int) -> bool:
        """Whether a value keeps to the bounds as they stand."""
        return bool(self.column.lowBound <= value / self.unit <= self.column.upBound)


@dataclass(frozen=True)
class Minutes:
    """The owner's minutes in a mix: those that count toward the hours, the expected ones in tenths, what is shared."""

    counted: Expression
    expected_tenths: Expression
    shared: Expression


@dataclass(kw_only=True)
class Program:
    """A program that orders from suppliers: its columns and rows, the quotes in play and the levels of what is wanted.

    ``rows`` keeps the constraints among whole columns, so that an answer can be checked without floats; ``packs``
    holds an expression for every quote in play, ``pack_columns`` those that are decided on their own, with their
    bound. ``budget_minor`` is what may be paid out, None where that is not asked.
    """

    job: Job
    problem: Any
    suppliers: dict[str, Supplier]
    in_play: list[Quote]
    budget_minor: int | None = None
    packs: dict[str, Expression] = field(default_factory=dict)
    pack_columns: dict[str, tuple[Variable, int]] = field(default_factory=dict)
    rows: list[tuple[str, Expression]] = field(default_factory=list)
    integers: list[Variable] = field(default_factory=list)
    stages: list[Level] = field(default_factory=list)
    ties: list[Level] = field(default_factory=list)
    cash: Expression = None
    columns: int = 0

    @cached_property
    def most_spared(self) -> dict[str, float]:
        """By supplier what packs beyond the need can spare at the most."""
        offered: dict[str, list[Quote]] = defaultdict(list)
        for quote in self.in_play:
            offered[quote.supplier or ""].append(quote)
        return {name: terms_of(self, name or "-").most_spared_minor(quotes) for name, quotes in offered.items()}

    def integer(self, low: int, high: int | None) -> Variable:
        """A new whole-numbered column."""
        variable = self.continuous(low, high, "Integer")
        self.integers.append(variable)
        return variable

    def continuous(self, low: float | None, high: float | None, category: str = "Continuous") -> Variable:
        """A new column; those that are not declared whole are whole whenever the others are."""
        self.columns += 1
        return self.problem.add_variable(f"c{self.columns:07d}", lowBound=low, upBound=high, cat=category)

    def row(self, name: str, constraint: Expression) -> None:
        """Add a constraint among whole columns under its name and running number."""
        self.rows.append((name, constraint))
        self.problem.addConstraint(_scaled_row(constraint), f"{name}_{len(self.rows)}")

    def definition(self, name: str, constraint: Expression) -> None:
        """Add a row that says what a continuous column stands for."""
        self.columns += 1
        self.problem.addConstraint(_scaled_row(constraint), f"{name}_d{self.columns}")


@dataclass(kw_only=True)
class Mix(Program):
    """The mix's program. Columns that are ``forced`` stay open in every stage, for one of them must be taken.

    ``narrowed``: what is in no best mix is left out already; ``good`` are the routes of a mix that is known of by then,
    by column. ``sketched``: its answer need be good, but is no proof.
    """

    offer: Offer
    by_fault: dict[str, list[Proposal]]
    take: dict[tuple[str, ...], Variable] = field(default_factory=dict)
    orders: dict[str, Variable] = field(default_factory=dict)
    sums: dict[str, Expression] = field(default_factory=dict)
    minutes: Minutes = field(init=False)
    unspent: Variable = None
    unspent_unit: int = 1
    within_reach: int = 0
    room: Variable = None
    rival: Variable = None
    forced: frozenset[str] = frozenset()
    narrowed: bool = False
    good: frozenset[str] = frozenset()
    sketched: bool = False

    @property
    def decisive(self) -> Level:
        """The stage in which money decides: profit where that is the aim, else the last one."""
        return next((stage for stage in self.stages if stage.name == PROFIT), self.stages[-1])

    @property
    def proposals(self) -> Iterator[Proposal]:
        """All routes put forward."""
        return (proposal for routes in self.by_fault.values() for proposal in routes)


def total(terms: Iterable[Any]) -> Expression:
    """The sum of columns, ``(column, factor)`` pairs, expressions and numbers; an expression even of nothing.

    Pairs are stated at once: PuLP makes an expression of every product, which took most of the time of a program.
    """
    factors, constant = defaultdict[Variable, float](float), 0.0
    for term in terms:
        if isinstance(term, tuple):
            column, factor = term
            factors[column] += factor
        elif isinstance(term, pulp.LpVariable):
            factors[term] += 1
        elif isinstance(term, pulp.LpAffineExpression):
            constant += term.constant
            for column, factor in term.items():
                factors[column] += factor
        else:
            constant += term
    return stated(factors, constant)


def stated(factors: Mapping[Variable, float], constant: float) -> Expression:
    """An expression of columns by their factors."""
    made = pulp.LpAffineExpression
    return made.from_dict(factors, constant) if hasattr(made, "from_dict") else made(factors, constant)  # PuLP 4 and 3


def step_of(expression: Expression) -> int:
    """What all values of an expression over whole columns are multiples of."""
    factors: list[int] = [round(factor) for factor in [expression.constant, *expression.values()]]
    return math.gcd(*factors) or 1


def scale_of(expression: Expression) -> int:
    """The power of two that brings the greatest factor down to what solvers hold well."""
    greatest: float = max(abs(factor) for factor in [expression.constant, *expression.values()])
    return 1 << max(0, int(greatest).bit_length() - GREATEST_FACTOR_BITS)


def divided(expression: Expression, unit: int) -> Expression:
    """An expression in another unit; exact where that is a power of two times what all factors are multiples of."""
    if unit == 1:
        return expression
    factors = {column: round(factor) / unit for column, factor in expression.items()}
    return stated(factors, expression.constant / unit)


def greatest_of(expression: Expression) -> int:
    """No less than any value of an expression over bounded whole columns."""
    ends = ((round(f), column.upBound if f > 0 else column.lowBound) for column, f in expression.items())
    terms: list[int] = [factor * end for factor, end in ends]
    return sum(terms, round(expression.constant))


def _scaled_row(row: Expression) -> Expression:
    """The same row with factors that solvers hold well."""
    scale = scale_of(row)
    if scale == 1:
        return row
    left = stated({column: factor / scale for column, factor in row.items()}, row.constant / scale)
    return left <= 0 if row.sense < 0 else left >= 0 if row.sense > 0 else left == 0


def job_budget(job: Job) -> int:
    """What may be paid out: nothing where the pot is already overdrawn."""
    return max(0, job.pot.remaining_minor)


def by_fault(offer: Offer) -> dict[str, list[Proposal]]:
    """Routes grouped by fault, in the offer's order."""
    grouped: dict[str, list[Proposal]] = defaultdict(list)
    for proposal in offer.proposals:
        grouped[proposal.fault].append(proposal)
    return dict(grouped)


def sure_units(mix: Mix, values: Values) -> Counter[str]:
    """Pieces of each quote that the routes which are taken are sure to need."""
    units = Counter[str]()
    for proposal in mix.proposals:
        if values[mix.take[proposal.key].name]:
            for line in proposal.certain:
                units[line.quote.id] += line.units
    return units


def most_minutes(mix: Mix) -> int:
    """No fewer than the minutes of any mix."""
    longest = sum(max(max(p.minutes, -(-p.expected_tenths // 10)) for p in routes) for routes in mix.by_fault.values())
    suppliers = {s for p in mix.proposals for s in p.suppliers}
    trips = sum(terms_of(mix, s).trip_minutes for s in suppliers)
    return longest + trips + sum(access.minutes for access in mix.job.access)


def terms_of(program: Program, supplier: str) -> Supplier:
    """The supplier's terms, or the defaults for one that is quoted but not listed."""
    return program.suppliers.get(supplier) or Supplier(id=supplier)
