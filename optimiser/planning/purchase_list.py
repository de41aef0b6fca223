"""Fill a fixed list of parts: read the list, ask the mix for the cheapest suppliers, and two plainer ways beside."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import inf

from optimiser import names
from optimiser.calls import call
from optimiser.certificate import purchase_list as certify_basket
from optimiser.errors import CallError, SolverError, WordsError
from optimiser.model import protection
from optimiser.model.job import Job
from optimiser.model.option import Bar, NotOffered
from optimiser.model.plan import NET_COST, Notice, OrderLine, Outcome, Remark
from optimiser.model.purchase_list import Basket, Buying, PacksBought
from optimiser.model.quotes import CONDITIONS, Condition, Quote
from optimiser.planning import notices, options
from optimiser.planning.totals import order_to
from optimiser.solver import purchase_list as mix
from optimiser.solver.exact_solve import SECONDS_TO_TIDY, Clock
from optimiser.text import first_of, in_shell

MOST_PIECES = 10**6
MOST_NAMED = 10
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Listed:
    """A list as it was read: pieces by part id, in the list's order, and the parts that it named more than once."""

    wanted: Mapping[str, int]
    added_up: tuple[str, ...] = ()


def listed(job: Job, words: Sequence[str]) -> Listed:
    """Read words such as ``front-disc=2``: a part by any of its names.

    Raises ``WordsError`` with everything that is wrong with the list, ``CallError`` for an empty one.
    """
    if not words:
        raise CallError("basket takes a list of parts.", f"Say: {call('basket', 'PART=2', 'PART=1')}")
    parts = job.titles_of_parts
    wrong: list[tuple[str, str]] = []
    pieces: Counter[str] = Counter()
    named: Counter[str] = Counter()
    for word in words:
        name, _, count = word.rpartition("=")
        meant = names.meant(name.strip(), parts)
        part = meant.name
        if not name.strip():
            wrong.append(
                (
                    f"{word!r} says not how many of what.",
                    f"Say {in_shell(names.meant(word, parts).name or 'part')}=2.",
                )
            )
        elif part is None:
            wrong.append((f"the job has no part {name.strip()!r}.", names.mend(meant.offered, parts)))
        elif not _is_count(count):
            wrong.append((f"{word!r} asks for no number of pieces.", f"Say a whole number from 1 to {MOST_PIECES}."))
        else:
            pieces[part] += int(count)
            named[part] += 1
    over = [part for part, units in pieces.items() if units > MOST_PIECES]
    wrong += [(f"{part} is asked for {pieces[part]} times in all.", f"Ask for {MOST_PIECES} at most.") for part in over]
    if wrong:
        raise WordsError(wrong)
    return Listed(dict(pieces), tuple(part for part, times in named.items() if times > 1))


def _is_count(word: str) -> bool:
    return word.isascii() and word.isdigit() and len(word) <= len(str(MOST_PIECES)) and 1 <= int(word) <= MOST_PIECES


def conditions_of(words: Iterable[str]) -> tuple[Condition, ...]:
    """Conditions as written, apart or with commas between. Raises ``CallError`` for a word that is none."""
    found = {word.strip().lower() for several in words for word in several.split(",")}
    strange = sorted(found - set(CONDITIONS))
    if strange:
        raise CallError(f"{', '.join(map(repr, strange))} is no condition.", f"Use {', '.join(CONDITIONS)}.")
    return tuple(condition for condition in CONDITIONS if condition in found)


def filled(
    job: Job, wanted: Listed, conditions: Collection[Condition] = (), progress: Progress = lambda _: None
) -> Basket:
    """The cheapest way to buy the list, certified; with the best single shop, and each part where it is cheapest.

    Raises ``WordsError`` for parts that nobody sells enough of, ``SolverError`` and ``PlanRefusedError`` for faults
    of the program.
    """
    market = _market(job, wanted.wanted, tuple(conditions))
    _enough_of_everything(market)
    clock = Clock(job.solve.seconds)
    progress("each part where it is cheapest")
    one_by_one = _one_by_one(market, _some(clock))
    progress("one shop for everything")
    single = _single(market, clock)
    progress("the cheapest basket")
    ways = [one_by_one] if single is None else [one_by_one, single]
    best, outcome = _cheapest(market, min(ways, key=_price), clock)
    answer = Basket(
        job=job,
        wanted=wanted.wanted,
        conditions=market.conditions,
        best=best,
        outcome=outcome,
        single=single,
        one_by_one=one_by_one,
        not_offered=tuple(market.barred),
        left_out=tuple(market.left_out),
        sold_out=tuple(market.sold_out),
        unreachable=market.unreachable,
        added_up=wanted.added_up,
        notices=tuple(_notices(job, wanted.wanted, (best, *ways))),
    )
    certify_basket.certify_basket(answer)
    return answer


def _cheapest(market: _MarketOfList, plainer: Buying, clock: Clock) -> tuple[Buying, Outcome]:
    """The cheapest basket; the cheaper of the plainer ways where the time ran out before anything was found."""
    found = mix.cheapest(market.job, market.wanted, market.quotes, clock, ceiling_minor=plainer.net_minor)
    if found is not None:
        return _buying(market, found), found.outcome
    least = mix.no_less_than(market.job, market.wanted, market.quotes, Clock(SECONDS_TO_TIDY))
    more = max(0, plainer.net_minor - least)
    return plainer, Outcome(proven=more == 0, stage=NET_COST, unit="money", better_at_most=more)


@dataclass(frozen=True)
class _MarketOfList:
    """Quotes that may be bought for a list, and those barred: all but ``quotes`` is of the listed parts alone."""

    job: Job
    wanted: Mapping[str, int]
    conditions: tuple[Condition, ...]
    quotes: list[Quote]
    barred: list[NotOffered]
    left_out: list[Quote]
    sold_out: list[Quote]
    unreachable: tuple[str, ...]

    @cached_property
    def _pieces(self) -> Mapping[tuple[str, str | None], float]:
        """Pieces on sale by listed part and supplier, and by part alone (None)."""
        pieces: dict[tuple[str, str | None], float] = defaultdict(float)
        for quote in self.quotes:
            if quote.part in self.wanted:
                there = inf if quote.stock is None else quote.stock * quote.pack
                pieces[quote.part, quote.supplier] += there
                pieces[quote.part, None] += there
        return pieces

    def to_be_had(self, part: str, supplier: str | None = None) -> int:
        """Pieces of a part that are sold, by anybody or by one supplier; as many as are wanted at the most."""
        return int(min(self.wanted[part], self._pieces.get((part, supplier), 0)))


def _market(job: Job, wanted: Mapping[str, int], conditions: tuple[Condition, ...]) -> _MarketOfList:
    offered, barred = options.on_offer(job, for_all=True)
    sold = job.sheets.by_id
    asked = [quote for quote in offered if not conditions or quote.condition in conditions]
    unreachable = _unreachable(job, asked)
    return _MarketOfList(
        job=job,
        wanted=wanted,
        conditions=conditions,
        quotes=[quote for quote in asked if quote.supplier not in unreachable],
        barred=[one for one in barred if sold[one.id].part in wanted],
        left_out=[q for q in offered if conditions and q.condition not in conditions and q.part in wanted],
        sold_out=[quote for quote in asked if quote.stock == 0 and quote.part in wanted],
        unreachable=tuple(sorted({q.supplier or "" for q in asked if q.part in wanted} & unreachable)),
    )


def _unreachable(job: Job, quotes: Iterable[Quote]) -> set[str]:
    """Suppliers whose minimum order all that they offer does not come to."""
    minimum = {supplier.id: supplier.minimum_order_minor for supplier in job.suppliers}
    short = {supplier: least for supplier, least in minimum.items() if least > 0}
    for quote in quotes:
        if quote.supplier in short and quote.price_minor > 0:
            worth = short[quote.supplier] if quote.stock is None else quote.stock * quote.price_minor
            short[quote.supplier] -= worth
    return {supplier for supplier, left in short.items() if left > 0}


def _enough_of_everything(market: _MarketOfList) -> None:
    """Raise ``WordsError`` naming every part with fewer pieces on sale than are wanted, and the quotes left out."""
    wrong = []
    for part, wanted in market.wanted.items():
        there = market.to_be_had(part)
        if there < wanted:
            had = f"Only {there} of {part} can be bought" if there else f"No {part} can be bought"
            left_out = _left_out(market, part)
            mend = "Ask for fewer, or find another quote." if there else "Find a quote for it, or take it off the list."
            wrong.append((f"{had}; the list asks for {wanted}.", f"{left_out}{mend}"))
    if wrong:
        raise WordsError(wrong)


BARRED = {
    Bar.LAPSED: "ran out on {}",
    Bar.LATE: "comes too late, on {}",
    Bar.SALVAGE: "salvage, never bought for this part",
    Bar.KIND_NOT_SAID: 'salvage, and nobody says that it may be: kind = "free"',
    Bar.ONLY_NEW: "this part is bought new or not at all",
}


def _left_out(market: _MarketOfList, part: str) -> str:
    """The quotes left out of a part that falls short, as a sentence."""
    sold = market.job.sheets.by_id
    said = [f"{b.id} ({BARRED[b.bar].format(b.detail)})" for b in market.barred if sold[b.id].part == part]
    said += [f"{quote.id} ({quote.condition}, not asked for)" for quote in market.left_out if quote.part == part]
    said += [f"{quote.id} (out of stock)" for quote in market.sold_out if quote.part == part]
    sellers = {quote.supplier for quote in market.job.sheets.of([part])}
    said += [
        f"{name} (all it offers does not come to its minimum order)" for name in market.unreachable if name in sellers
    ]
    return f"Left out: {first_of(said, MOST_NAMED)}. " if said else ""


def _one_by_one(market: _MarketOfList, clock: Clock) -> Buying:
    """Each part where its own goods are cheapest, then the postage and the minimums that this comes with."""
    pieces: dict[str, int] = {}
    for part, wanted in market.wanted.items():
        sold = [quote for quote in market.quotes if quote.part == part]
        alone = _known(mix.cheapest(market.job, {part: wanted}, sold, clock, terms=False))
        pieces |= fitted({part: wanted}, sold, alone.packs)
    by_supplier: dict[str, dict[str, int]] = defaultdict(Counter)
    quotes = {quote.id: quote for quote in market.quotes}
    for name, count in pieces.items():
        by_supplier[quotes[name].supplier or ""][name] = count
    bought = []
    for supplier, fixed in by_supplier.items():
        wanted_here: Counter[str] = Counter()
        for name, count in fixed.items():
            wanted_here[quotes[name].part] += count
        own = [quote for quote in market.quotes if quote.supplier == supplier]
        bought.append(_known(mix.cheapest(market.job, wanted_here, own, clock, fixed=fixed)))
    packs = {name: count for some in bought for name, count in some.packs.items()}
    net, cash = sum(b.net_minor for b in bought), sum(b.cash_minor for b in bought)
    everything = PacksBought(packs=packs, net_minor=net, cash_minor=cash, outcome=Outcome(proven=True))
    return _buying(market, everything, pieces)


def _known(found: PacksBought | None) -> PacksBought:
    if found is None:
        raise SolverError("no basket was found, not even a plain one")
    return found


def _single(market: _MarketOfList, clock: Clock) -> Buying | None:
    """The cheapest order to one supplier for everything; None where none has it."""
    best: tuple[PacksBought, list[Quote]] | None = None
    for supplier in sorted({quote.supplier or "" for quote in market.quotes}):
        if any(market.to_be_had(part, supplier) < wanted for part, wanted in market.wanted.items()):
            continue
        own = [quote for quote in market.quotes if quote.supplier == supplier]
        found = _known(mix.cheapest(market.job, market.wanted, own, _some(clock), ties=False))
        if best is None or _price(found) < _price(best[0]):
            best = found, own
    if best is None:
        return None
    settled = mix.cheapest(market.job, market.wanted, best[1], _some(clock), ceiling_minor=best[0].net_minor)
    return _buying(market, _known(settled))


def _some(clock: Clock) -> Clock:
    """The time left, and some seconds at least for short work."""
    return Clock(max(clock.left, SECONDS_TO_TIDY))


def _price(bought: PacksBought | Buying) -> tuple[int, int]:
    return bought.net_minor, bought.cash_minor


def fitted(wanted: Mapping[str, int], quotes: Iterable[Quote], packs: Mapping[str, int]) -> dict[str, int]:
    """The pieces that the list takes of each quote bought: those with the highest deposit, which then comes back."""
    left = dict(wanted)
    taken: dict[str, int] = {}
    for quote in sorted(quotes, key=lambda q: (-q.deposit_minor, q.content, q.line)):
        if packs.get(quote.id):
            taken[quote.id] = min(left.get(quote.part, 0), packs[quote.id] * quote.pack)
            left[quote.part] = left.get(quote.part, 0) - taken[quote.id]
    return taken


def _buying(market: _MarketOfList, bought: PacksBought, pieces: Mapping[str, int] | None = None) -> Buying:
    pieces = fitted(market.wanted, market.quotes, bought.packs) if pieces is None else pieces
    lines: dict[str, list[OrderLine]] = defaultdict(list)
    for quote in market.quotes:
        if packs := bought.packs.get(quote.id):
            line = OrderLine(quote=quote, packs=packs, fitted=pieces.get(quote.id, 0))
            lines[quote.supplier or ""].append(line)
    orders = tuple(order_to(market.job, supplier, lines[supplier]) for supplier in sorted(lines))
    return Buying(orders=orders, net_minor=bought.net_minor, cash_minor=bought.cash_minor)


NOTED = (Remark.SUPPLIER_NOT_LISTED, Remark.NEEDED_BY_PAST, Remark.ALIKE_QUOTES, Remark.NO_CURRENCY)
"""Of what a job gives cause to say, what bears on buying."""


def _notices(job: Job, wanted: Mapping[str, int], ways: Sequence[Buying]) -> Iterator[Notice]:
    """What must be said beside the figures: what bears on the listed parts and on the suppliers named.

    The first of the ways is the one to buy by: what it takes used that safety hangs on comes first.
    """
    users = protection.users(job.faults)
    bought = {
        (line.quote.part, line.quote.condition) for order in ways[0].orders for line in order.lines if line.fitted
    }
    for part, condition in sorted(bought):
        kind = protection.safety_kind(job.part(part), users.get(part, ()))
        if kind and condition != "new":
            title = job.part(part).title or part
            yield Notice(remark=Remark.SAFETY_PART_USED, about=(title, condition, kind))
    yield from (said for said in notices.of_protection(job) if set(said.about).intersection(wanted))
    of_list = {quote.id for quote in job.sheets.of(wanted)}
    for said in notices.of_job(job, {order.supplier.id for way in ways for order in way.orders}):
        if said.remark in NOTED and (said.remark != Remark.ALIKE_QUOTES or of_list.intersection(said.about)):
            yield said
