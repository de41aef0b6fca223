"""The short number of every step in a plan: first the work on the faults, then the lines to order.

A person writes down what happened by these numbers, some time after they saw them. So a plan may carry on the numbers
of the one before it (``carried_on``): what stays keeps its number, what is new gets one that nothing had.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from itertools import count

from optimiser.model import route
from optimiser.model.kept import KeptPiece, Step
from optimiser.model.plan import Plan
from optimiser.model.quotes import Origin, Quote, origin
from optimiser.model.route import LIKELY, CheckStep, Node, Stop
from optimiser.planning import sending


@dataclass(frozen=True)
class Numbers:
    """Step numbers: by fault id that of its first step and those of its whole tree, each before what follows it.

    ``lines`` are the numbers of the lines to order, by quote id; ``by_key`` all of them, by what the step is. A step of
    a what-if that no kept plan had has none.
    """

    faults: dict[str, int]
    trees: dict[str, tuple[int | None, ...]]
    lines: dict[str, int]
    by_key: dict[str, int]


@dataclass(frozen=True)
class Numbered:
    """A node with its number (None: a stop, or a step without) and what follows it: results with their chances.

    ``place`` is that among the steps of its tree.
    """

    number: int | None
    node: Node
    place: int = 0
    then: tuple[tuple[str, float, Numbered], ...] = ()


_LATEST: list[tuple[Plan, Numbers]] = []
"""The plan numbered last: an answer asks for its numbers again and again, and there may be very many quotes."""


def numbers(plan: Plan) -> Numbers:
    """Number the plan's steps in the order in which the plan shows them: as it carries them on, new ones after those.

    A plan that carries no numbers is numbered from 1; a what-if has no new ones.
    """
    if not (_LATEST and _LATEST[0][0] is plan):
        _LATEST[:] = [(plan, _numbers(plan))]
    return _LATEST[0][1]


def _numbers(plan: Plan) -> Numbers:
    counter = count(max(plan.numbering.values(), default=0) + 1)
    twins = Counter[str]()
    by_key: dict[str, int] = {}

    def number(key: str) -> int | None:
        twins[key] += 1
        told_apart = key if twins[key] == 1 else f"{key}#{twins[key]}"
        given = plan.numbering.get(told_apart) or (None if plan.what_if else next(counter))
        if given is not None:
            by_key[told_apart] = given
        return given

    several = _told_apart(plan)

    def step_key(fault: str, step: route.CheckStep | route.AttemptStep) -> str:
        if isinstance(step, CheckStep):
            return f"check {fault}/{step.check}"
        return " ".join(
            (f"attempt {fault}/{step.option.repair}", *(_source(plan, ln.quote, several) for ln in step.option.lines))
        )

    trees = {
        choice.fault.id: tuple(number(step_key(choice.fault.id, step)) for step in route.steps(choice.route.first))
        for choice in plan.choices
        if choice.route is not None
    }
    ordered = (line for order in plan.orders for line in order.lines)
    lines = {line.quote.id: number(f"order {line.packs} x {_source(plan, line.quote, several)}") for line in ordered}
    faults = {fault: tree[0] for fault, tree in trees.items()}
    return Numbers(faults=_given(faults), trees=trees, lines=_given(lines), by_key=by_key)


def _given(found: Mapping[str, int | None]) -> dict[str, int]:
    return {name: number for name, number in found.items() if number is not None}


def carried_on(plan: Plan, numbering: Mapping[str, int]) -> Plan:
    """The plan with the numbers given before, and with its own for what is new; all of them to be kept with it."""
    given = plan.model_copy(update={"numbering": dict(numbering)})
    return given.model_copy(update={"numbering": {**numbering, **numbers(given).by_key}})


def as_what_if(plan: Plan, numbering: Mapping[str, int]) -> Plan:
    """The plan with the numbers given before and no others: nobody keeps it."""
    return plan.model_copy(update={"numbering": dict(numbering), "what_if": True})


def kept(plan: Plan) -> tuple[Step, ...]:
    """The plan's steps with the numbers that it shows, to be kept."""
    numbered = numbers(plan)
    found = [
        _kept(number, choice.fault.id, node)
        for choice in plan.choices
        if choice.route is not None
        for number, node in zip(numbered.trees[choice.fault.id], route.steps(choice.route.first), strict=True)
        if number is not None
    ]
    for order in plan.orders:
        for line in order.lines:
            piece = _piece(line.quote, line.pieces, order.supplier.id, line.packs)
            found.append(Step(number=numbered.lines[line.quote.id], kind="order", pieces=(piece,)))
    return tuple(found)


def _kept(number: int, fault: str, node: route.CheckStep | route.AttemptStep) -> Step:
    if isinstance(node, CheckStep):
        return Step(number=number, kind="check", fault=fault, id=node.check)
    pieces = tuple(_piece(line.quote, line.units, line.quote.supplier) for line in node.option.lines)
    return Step(number=number, kind="attempt", fault=fault, id=node.option.repair, pieces=pieces)


def _piece(quote: Quote, units: int, supplier: str | None, packs: int | None = None) -> KeptPiece:
    return KeptPiece(
        part=quote.part, units=units, supplier=supplier, condition=quote.condition, quote=quote.id, ref=quote.ref,
        price_minor=quote.price_minor, deposit_minor=quote.deposit_minor, pack=quote.pack, packs=packs,
    )  # fmt: skip


def _source(plan: Plan, quote: Quote, several: Collection[Origin]) -> str:
    """Where a piece comes from, by what the quote says, for its line in a sheet may move.

    A piece that was bought since is the one that was to be bought. Of several quotes that say the same, what each asks.
    """
    sold = _as_sold(plan, quote)
    if sold.supplier is None:
        return sold.id
    where = origin(sold)
    return repr((*where, sold.price_minor, sold.good_chance) if where in several else where)


def _as_sold(plan: Plan, quote: Quote) -> Quote:
    """The quote that a piece on the shelf was bought by, if the sheets still have it; else what it lies there as."""
    sheets = plan.job.sheets.by_id
    return next((sheets[name] for name in sorted(quote.came_from) if name in sheets), quote)


def _told_apart(plan: Plan) -> set[Origin]:
    """Of the origins of the plan's pieces those that another quote has as well, which asks something else."""
    routes = (choice.route for choice in plan.choices if choice.route is not None)
    nodes = (node for each in routes for node in route.steps(each.first) if isinstance(node, route.AttemptStep))
    taken = [line.quote for node in nodes for line in node.option.lines]
    taken += [line.quote for order in plan.orders for line in order.lines]
    sold = [_as_sold(plan, quote) for quote in taken]
    shared = plan.job.sheets.shared_origins({quote.part for quote in sold}).intersection(map(origin, sold))
    asked: dict[Origin, set[tuple[int, float]]] = defaultdict(set)
    for quote in plan.job.sheets.of({part for part, *_ in shared}):
        if (where := origin(quote)) in shared:
            asked[where].add((quote.price_minor, quote.good_chance))
    return {where for where, offers in asked.items() if len(offers) > 1}


def serves(plan: Plan, number: int) -> tuple[str, ...]:
    """The faults that a step is for: the one whose tree it stands in, or those that a line to order is for."""
    found = numbers(plan)
    of_trees = tuple(fault for fault, tree in found.trees.items() if number in tree)
    if of_trees:
        return of_trees
    quotes = {quote for quote, given in found.lines.items() if given == number}
    return tuple(choice.fault.id for choice in plan.choices if sending.needs(choice) & quotes)


def numbered(first: Node, tree: tuple[int | None, ...]) -> Numbered:
    """A tree with the numbers of its steps."""
    return _numbered(first, enumerate(tree))


def _numbered(node: Node, left: Iterator[tuple[int, int | None]]) -> Numbered:
    if isinstance(node, Stop):
        return Numbered(None, node)
    place, number = next(left)
    return Numbered(number, node, place, tuple((b.result, b.chance, _numbered(b.then, left)) for b in node.then))


def seldom(then: Numbered, chance: float) -> bool:
    """Whether a branch, with its chance from the root on, is folded in words: the guarantee and JSON keep it."""
    return chance < LIKELY and not isinstance(then.node, Stop)


def told(at: Numbered, chance: float = 1.0) -> Iterator[int]:
    """The numbers of a tree's steps that are told in words."""
    if at.number is not None:
        yield at.number
    for _, likely, then in at.then:
        if not seldom(then, chance * likely):
            yield from told(then, chance * likely)
