"""Which parts of a plan have rough prices only, and whose quotes would tell the most."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from optimiser import money
from optimiser.model.job import Job
from optimiser.model.option import Option
from optimiser.model.plan import QuoteToGet
from optimiser.model.route import AttemptStep, Node, Route, Stop


def quotes_to_get(job: Job, routes: Iterable[Route], beyond: Iterable[Option] = ()) -> tuple[QuoteToGet, ...]:
    """Every part that the routes would buy at a rough price, the ones with most money in doubt first; and those of
    options ``beyond`` the money, for which a shop may ask less.

    In doubt is the width of the range of its price times the pieces that are bought on the average (own measure, no
    published source).
    """
    pieces: dict[tuple[str, str], float] = defaultdict(float)
    for route in routes:
        for key, bought in _pieces(route).items():
            pieces[key] += bought
    for line in (line for option in beyond for line in option.lines if line.quote.rough):
        pieces[line.quote.part, line.quote.condition] += line.units
    parts = {part.id: part for part in job.parts}
    found = []
    for part in sorted({part for part, _ in pieces}):
        conditions = [condition for condition in parts[part].rough_price if (part, condition) in pieces]
        ranges = {condition: parts[part].rough_price[condition] for condition in conditions}
        doubt = sum(pieces[part, condition] * (high - low) for condition, (low, high) in ranges.items())
        found.append(
            QuoteToGet(
                part=part,
                conditions=tuple(conditions),
                low_minor=min(low for low, _ in ranges.values()),
                high_minor=max(high for _, high in ranges.values()),
                pieces=sum(pieces[part, condition] for condition in conditions),
                doubt_minor=money.half_up(doubt),
            )
        )
    return tuple(sorted(found, key=lambda one: (-one.doubt_minor, one.part)))


def _pieces(route: Route) -> dict[tuple[str, str], float]:
    """By part and condition the pieces at rough prices that the route buys on the average; certain lines surely."""
    found: dict[tuple[str, str], float] = defaultdict(float)
    for key, pieces in _reached(route.first, 1.0):
        found[key] += pieces
    sure: dict[tuple[str, str], float] = {
        (x.quote.part, x.quote.condition): float(x.units) for x in route.certain if x.quote.rough
    }
    return {**found, **sure}


def _reached(node: Node, chance: float) -> Iterator[tuple[tuple[str, str], float]]:
    if isinstance(node, Stop):
        return
    if isinstance(node, AttemptStep):
        for line in node.option.lines:
            if line.quote.rough:
                yield (line.quote.part, line.quote.condition), chance * line.units
    for branch in node.then:
        yield from _reached(branch.then, chance * branch.chance)
