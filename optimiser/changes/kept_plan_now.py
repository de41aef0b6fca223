"""Where a kept plan stands by now: the steps taken since followed along its trees, its quotes found again.

Two attempts are the same where they make the same repair with pieces of the same part, supplier, condition, reference
and pack: a quote's line may move, its price may change, and what was bought of it lies on the shelf. Where one sheet
has several quotes that say the same of these, their price and chance tell them apart; one that asks another price by
now goes by what it asked in the sheet of the kept plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set

from optimiser import text
from optimiser.model.events import CheckMade, Entry, Fitting, Purchase, standing
from optimiser.model.job import Job
from optimiser.model.option import Line
from optimiser.model.plan import Selection
from optimiser.model.quotes import NO_QUOTES, Quote, QuoteIndex, origin
from optimiser.model.route import CURED, NOT_CURED, AttemptStep, CheckStep, Node, Route, Stop

Source = tuple[str | int | float, ...]
"""Part, supplier (empty: the shelf), condition, pack, reference; where a sheet has several of these, what each asks."""
Doing = tuple[object, ...]
"""What is done, told apart by content: equal where a person would do the same."""
BOUGHT = "bought:"
STOP: Doing = ("stop",)


class Sources:
    """Tells where pieces come from, whatever their quote is called by now."""

    def __init__(
        self,
        entries: Iterable[Entry],
        then: QuoteIndex = NO_QUOTES,
        now: QuoteIndex = NO_QUOTES,
        parts: Set[str] = frozenset(),
    ) -> None:
        """``then`` and ``now`` are the sheets of the kept plan and those of today, ``parts`` what plans may need."""
        shared = then.shared_origins(parts) | now.shared_origins(parts)
        of = {part for part, *_ in shared}
        before, today = (_offers(q for q in sheets.of(of) if origin(q) in shared) for sheets in (then, now))
        self.several = {source for sheet in (before, today) for source, asked in sheet.items() if len(asked) > 1}
        self.asked_then = {
            (*source, *new): (*source, *old)
            for source in self.several
            for old, new in _changed(before.get(source, {}), today.get(source, {}))
        }
        self.purchases = {e.number: e.happening for e in standing(tuple(entries)) if isinstance(e.happening, Purchase)}

    def of(self, quote: Quote) -> Source:
        """Of a supplier's quote, of pieces bought from one, or of the shelf."""
        return self.as_quoted(self.purchase(quote) or quote)

    def as_quoted(self, said: Quote | Purchase) -> Source:
        """Of what a quote or a purchase says."""
        source = _source(said)
        if source not in self.several:
            return source
        asked = (*source, said.price_minor, said.good_chance)
        return self.asked_then.get(asked, asked)

    def purchase(self, quote: Quote) -> Purchase | None:
        """The purchase that lies on the shelf under this name."""
        number = quote.id.removeprefix(BOUGHT)
        return self.purchases.get(text.count(number) or 0) if quote.id.startswith(BOUGHT) else None

    def first(self, node: Node) -> Doing:
        """What a route does first."""
        if isinstance(node, CheckStep):
            return ("check", node.check)
        if isinstance(node, AttemptStep):
            return ("attempt", node.option.repair, *sorted(self.of(line.quote) for line in node.option.lines))
        return STOP

    def tree(self, node: Node) -> Doing:
        """All that a route does."""
        if isinstance(node, Stop):
            return STOP
        then = sorted((branch.result, self.tree(branch.then)) for branch in node.then)
        return (*self.first(node), *then)


def _source(said: Quote | Purchase) -> Source:
    return (said.part, said.supplier or "", said.condition, said.pack, said.ref)


Asked = dict[tuple[int, float], None]
"""Prices and chances, each once, in the order of the rows."""


def _offers(sheet: Iterable[Quote]) -> dict[Source, Asked]:
    """What a sheet asks, by source."""
    found: dict[Source, Asked] = {}
    for quote in sheet:
        found.setdefault(_source(quote), {})[quote.price_minor, quote.good_chance] = None
    return found


def _changed(then: Asked, now: Asked) -> Iterator[tuple[tuple[int, float], tuple[int, float]]]:
    """What is asked no more with what is asked in its place, as the rows stand."""
    gone, new = ([asked for asked in one if asked not in other] for one, other in ((then, now), (now, then)))
    return zip(gone, new, strict=False)


def followed(route: Route, since: Sequence[Entry]) -> Node:
    """Where a route stands after the checks and attempts of these entries that it foresaw, in their order."""
    node: Node = route.first
    for entry in standing(since):
        result = _result(node, route.fault, entry.happening)
        after = None if isinstance(node, Stop) else next((b.then for b in node.then if b.result == result), None)
        node = node if after is None else after
    return node


def _result(node: Node, fault: str, happening: object) -> str | None:
    """What the happening shows at the step that the route stands at, None where it is about something else."""
    if isinstance(happening, CheckMade):
        made = isinstance(node, CheckStep) and (fault, node.check) == (happening.fault, happening.check)
        return happening.result if made else None
    if isinstance(happening, Fitting) and isinstance(node, AttemptStep):
        tried = (fault, node.option.repair) == (happening.fault, happening.repair)
        return (CURED if happening.cured else NOT_CURED) if tried else None
    return None


def nearest(last: Selection, job: Job, since: Sequence[Entry], sources: Sources) -> Selection:
    """The last plan as it stands now, for the mix to stay near to: steps taken are behind it, quotes have today's ids.

    Only what each route does first is brought up to date: that is all that the mix compares.
    """
    open_faults = {fault.id for fault in job.faults}
    reached = [(route.fault, followed(route, since)) for route in last.routes if route.fault in open_faults]
    today = _today(job, [node for _, node in reached if isinstance(node, AttemptStep)], sources)
    routes = [Route.of(f, _renamed(node, today, sources)) for f, node in reached if not isinstance(node, Stop)]
    return last.model_copy(update={"routes": tuple(routes), "packs": {}})


def _today(job: Job, steps: Sequence[AttemptStep], sources: Sources) -> Mapping[Source, Quote | str]:
    """By source what it is planned under now: pieces that lie on the shelf before the sheet they were bought from.

    Of the sheets what these steps take is looked for alone.
    """
    names: dict[Source, Quote | str] = {}
    lines = [line.quote for step in steps for line in step.option.lines]
    parts, wanted = {quote.part for quote in lines}, {sources.of(quote) for quote in lines}
    origins = {source[:5] for source in wanted}
    sold = [quote for quote in job.sheets.of(parts) if origin(quote) in origins and sources.of(quote) in wanted]
    for quote in sorted(sold, key=lambda quote: (quote.content, quote.id), reverse=True):
        names[sources.of(quote)] = quote
    for name, owned in reversed(job.shelf.items()):
        number = owned.bought
        bought = sources.purchases.get(number) if number is not None and name.startswith(BOUGHT) else None
        if bought is not None:
            names[sources.as_quoted(bought)] = name
    return names


def _renamed(node: Node, today: Mapping[Source, Quote | str], sources: Sources) -> Node:
    if not isinstance(node, AttemptStep):
        return node
    lines = tuple(_line(line, today, sources) for line in node.option.lines)
    return node.model_copy(update={"option": node.option.model_copy(update={"lines": lines})})


def _line(line: Line, today: Mapping[Source, Quote | str], sources: Sources) -> Line:
    now = today.get(sources.of(line.quote))
    if now is None:
        return line
    quote = now if isinstance(now, Quote) else line.quote.model_copy(update={"id": now, "supplier": None})
    return line.model_copy(update={"quote": quote})
