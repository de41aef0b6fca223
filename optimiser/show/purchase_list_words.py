"""A basket in words: the answer in a sentence, the plainer ways beside it, the quotes left out and why."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.model.plan import Remark
from optimiser.model.purchase_list import Basket, Buying
from optimiser.show import wording
from optimiser.text import counted

JUDGE = (
    "A basket weighs money alone, not the chance that a part is sound: shut out what you would not fit with"
    " --condition, or let the plan weigh it."
)

OUT_OF_STOCK = "out of stock"
FIRST = (Remark.SAFETY_PART_USED, Remark.PROTECTION_LIFTED, Remark.PROTECTION_FREED)
"""Remarks that are said before the table."""
SHORT = "all that it offers does not come to its minimum order"


def headline(basket: Basket) -> str:
    best, job = basket.best, basket.job
    pieces = sum(basket.wanted.values())
    list_of = f"{counted(pieces, 'piece')} of {counted(len(basket.wanted), 'part')}"
    said = f"The list ({list_of}) from {_suppliers(best)}: "
    if not best.back_minor:
        return f"{said}{wording.amount(job, best.cash_minor)} to pay."
    back = wording.amount(job, best.back_minor)
    cost = wording.amount(job, best.net_minor)
    return f"{said}{wording.amount(job, best.cash_minor)} to pay now, {back} back with the old units; it costs {cost}."


def _suppliers(buying: Buying) -> str:
    return counted(len(buying.orders), "supplier")


def outcome(basket: Basket) -> str:
    if basket.outcome.proven:
        return "Proven: no other way to buy the list from these quotes costs less."
    better = wording.amount(basket.job, basket.outcome.better_at_most)
    return (
        f"Best found in the time allowed: another way may cost up to {better} less."
        " Allow more seconds in [solve] to be sure."
    )


def asked(basket: Basket) -> str | None:
    return f"Only {' and '.join(basket.conditions)}, as you asked." if basket.conditions else None


def over_the_pot(basket: Basket) -> str | None:
    """How far the basket is above what remains of the pot, if it is."""
    remaining = max(0, basket.job.pot.remaining_minor)
    over = basket.best.cash_minor - remaining
    if over <= 0:
        return None
    return (
        f"! That is {wording.amount(basket.job, over)} more than remains of the pot"
        f" ({wording.amount(basket.job, remaining)})."
    )


def ways(basket: Basket) -> Iterator[tuple[str, Buying]]:
    """The ways to buy the list that there is something to say about, in words."""
    yield f"The basket, {_suppliers(basket.best)}", basket.best
    if basket.single is not None:
        yield f"One shop, {wording.supplier(basket.job, basket.single.orders[0].supplier.id)}", basket.single
    yield f"Part by part, {_suppliers(basket.one_by_one)}", basket.one_by_one


def judgement(basket: Basket) -> Iterator[str]:
    """The extra cost of the plainer ways, and the parcels that they would save."""
    single, one_by_one = basket.single, basket.one_by_one
    if single is None:
        yield "No one shop can deliver the whole list."
    elif len(basket.best.orders) > 1:
        more = _more(basket, single, "costs the same")
        yield f"One order instead of {len(basket.best.orders)}: all from one shop {more}."
    more = _more(basket, one_by_one, "comes to the same")
    yield f"Buying each part where its own price is lowest, whatever the postage, {more}."
    yield JUDGE


def _more(basket: Basket, other: Buying, same: str) -> str:
    more = other.net_minor - basket.best.net_minor
    now = other.cash_minor - basket.best.cash_minor
    if more or not now:
        return f"costs {wording.amount(basket.job, more)} more" if more else same
    return f"{same}, with {wording.amount(basket.job, abs(now))} {'more' if now > 0 else 'less'} to pay now"


def over(basket: Basket) -> list[tuple[str, int]]:
    """Pieces that are bought and not on the list, by part, in the order of the parts."""
    left: dict[str, int] = {}
    for line in (line for order in basket.best.orders for line in order.lines):
        left[line.quote.part] = left.get(line.quote.part, 0) + line.pieces - line.fitted
    return sorted((part, units) for part, units in left.items() if units)


def not_offered(basket: Basket) -> list[str]:
    """Quotes of the listed parts that could not be taken, and why."""
    job = basket.job
    said = [wording.not_offered(job, barred) for barred in basket.not_offered]
    for quote in basket.left_out:
        source = f"{wording.part(job, quote.part)}, {wording.supplier(job, quote.supplier)}"
        said.append(f"quote {wording.plain(quote.id)} ({source}): {quote.condition} was not asked for")
    for quote in basket.sold_out:
        source = f"{wording.part(job, quote.part)}, {wording.supplier(job, quote.supplier)}"
        said.append(f"quote {wording.plain(quote.id)} ({source}): {OUT_OF_STOCK}")
    for supplier in basket.unreachable:
        least = wording.amount(job, job.supplier(supplier).minimum_order_minor)
        said.append(f"{wording.supplier(job, supplier)}: {SHORT} of {least}")
    return said


def added_up(basket: Basket) -> list[str]:
    said = "{} is on the list more than once: added together, {} pieces."
    return [said.format(wording.part(basket.job, part), basket.wanted[part]) for part in basket.added_up]


def mind(basket: Basket) -> list[str]:
    job = basket.job
    said = []
    for part, units in basket.wanted.items():
        in_sets = job.part(part).renew_in
        if units % in_sets:
            said.append(f"{wording.part(job, part)} is renewed in sets of {in_sets}; the list asks for {units}.")
        owned = sum(row.units for row in job.owned if row.part == part)
        if owned:
            there = f"{owned} x {wording.part(job, part)} {'is' if owned == 1 else 'are'} on your shelf or on the way"
            said.append(f"{there}; the list is bought in full all the same.")
    return said + [wording.notice(job, one) for one in basket.notices if one.remark not in FIRST]


def warnings(basket: Basket) -> list[str]:
    """What must be known before the table is read: parts that come used and that safety hangs on."""
    return [f"! {wording.notice(basket.job, one)}" for one in basket.notices if one.remark in FIRST]
