"""Quotes side by side in words: the meaning and origin of each figure, and the winner of each column."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from optimiser.calls import call
from optimiser.model.job import Job
from optimiser.model.option import Bar
from optimiser.model.quote_comparison import Landed, Matrix, Merit, Quoted, QuotesCompared, QuotesOfPart
from optimiser.show import wording
from optimiser.text import counted

MERITS = {
    Merit.EACH: "cheapest each",
    Merit.ALONE: "cheapest alone",
    Merit.IN_PLAN: "cheapest within the plan",
    Merit.UNTIL_SOUND: "cheapest until one works",
    Merit.SOONEST: "soonest here",
    Merit.WARRANTY: "longest warranty",
}
EACH = "Each: the price of a pack over its pieces, rounded."
ALONE = (
    "Alone: all that is needed, bought by itself: whole packs, postage, and more goods where the supplier's minimum or"
    " free postage makes that the cheapest way; deposits that come back are not in it."
)
IN_PLAN = (
    "In plan: what it adds to the orders that the plan is sure to place for everything else; no postage where one goes"
    " there anyway, and less than its price where it brings free postage."
)
UNTIL_SOUND = (
    "Until one works: alone + (1 - g) / g x again. g is the chance that it is sound, (1 - g) / g is how many fail on"
    " the average, and again is what each of those takes: alone less what is refunded of the price, or under warranty"
    " the postage of a free replacement if that is less (common practice, no published source). ~ there is stock for"
    " one try only: nothing to replace it with, reckoned as if another like it turned up."
)
CROWDED = "So many that only those that are the best at something are shown: name a part, or say --csv, for all."
EXPLAIN = "Say --explain for what the columns mean."
BEST, ORDERED = "* the best at it.", "=> in the plan's orders."


def meaning(answer: QuotesCompared) -> list[str]:
    return [EACH, ALONE, *([] if answer.plan is None else [IN_PLAN]), UNTIL_SOUND]


def marks(answer: QuotesCompared) -> str:
    return BEST if answer.plan is None else f"{BEST} {ORDERED}"


def headline(answer: QuotesCompared) -> str:
    quotes = sum(len(part.rows) for part in answer.parts)
    if not quotes:
        return f"Nothing has been quoted yet: `{call('quotes')}` takes in what suppliers send."
    usable = sum(len(part.may_be_bought) for part in answer.parts)
    barred = "" if quotes == usable else f", {quotes - usable} of which cannot be bought"
    held = "held against the plan as it is now" if answer.plan else "by themselves, without a plan"
    return f"{counted(quotes, 'quote')} of {counted(len(answer.parts), 'part')}{barred}, {held}."


def part_title(job: Job, part: QuotesOfPart) -> str:
    """The part, and how many of it every quote is reckoned for."""
    in_set = job.part(part.part).renew_in
    sets = f", renewed in sets of {in_set}" if in_set > 1 else ""
    need = f"{part.units} needed{sets}" if part.repairs else f"no open fault needs it; reckoned for {part.units}"
    shelf = f"; {part.on_shelf} on your shelf or on the way" if part.on_shelf else ""
    return f"{wording.part(job, part.part)}: {need}{shelf}"


def quote(job: Job, row: Quoted) -> str:
    """Condition, supplier, the pack, how likely it is sound, and the deposit on a piece."""
    asked = row.quote
    pack = f", {asked.pack} in a pack" if asked.pack > 1 else ""
    deposit = f", deposit {job.currency.text(asked.deposit_minor)} a piece" if asked.deposit_minor else ""
    return f"{asked.condition}, {seller(row)}{pack}, {wording.chance(asked.good_chance)} sound{deposit}"


def place(row: Quoted) -> str:
    ref = f"ref {wording.plain(row.quote.ref)}, " if row.quote.ref else ""
    return f"{ref}{wording.plain(row.quote.id)}"


def seller(row: Quoted) -> str:
    return wording.named(row.terms)


def barred(job: Job, row: Quoted) -> str:
    """Why a quote cannot be bought; nothing where it can."""
    if row.barred is None:
        return ""
    if row.barred.bar == Bar.LAPSED:
        return f"lapsed on {row.barred.detail}"
    if row.quote.stock == 0:
        return "out of stock"
    if row.barred.bar == Bar.TOO_FEW:
        return f"only {(row.quote.stock or 0) * row.quote.pack} to be had"
    return wording.because(job, row.barred)


def wins(part: QuotesOfPart, letter_of: Mapping[str, str]) -> str:
    """Who wins on what, in the order of the columns."""
    running = part.may_be_bought
    if not running:
        return "Nothing here can be bought now." if part.rows else "Nobody has quoted for it."
    if len(running) == 1:
        return f"{letter_of[running[0].quote.id]} is the only one that can be bought."
    winners = {merit: [letter_of[row.quote.id] for row in running if merit in row.wins] for merit in Merit}
    won = {merit: letters for merit, letters in winners.items() if letters}
    if all(len(letters) == len(running) for letters in won.values()):
        return "They are level on everything."
    said = [f"{MERITS[merit]} {_names(letters, len(running))}" for merit, letters in won.items()]
    return f"{'; '.join(said)}.".capitalize() if said else ""


def not_for_its_price(part: QuotesOfPart, letter_of: Mapping[str, str]) -> str:
    """What to say where the plan orders a quote that another undercuts within the plan; nothing elsewhere."""
    dearer = [row for row in part.may_be_bought if row.planned and Merit.IN_PLAN not in row.wins]
    if not dearer:
        return ""
    named = " and ".join(letter_of[row.quote.id] for row in dearer)
    return (
        f"The plan orders {named} all the same: it weighs the chance of a cure, the days, the stock and what may follow"
        " a failure too. Compare the fault to see what another choice would lose."
    )


def _names(letters: Sequence[str], running: int) -> str:
    return "all" if len(letters) == running else " and ".join(letters)


def how(job: Job, row: Quoted) -> Iterator[str]:
    """How each figure of a quote came about, one sentence a figure."""
    text, asked = job.currency.text, row.quote
    each = f"{text(asked.price_minor)} for {asked.pack}, so {text(asked.each_minor)} each"
    yield f"{each if asked.pack > 1 else f'{text(asked.price_minor)} each'}."
    if row.barred is not None:
        yield f"It cannot be bought: {barred(job, row)}."
        return
    if row.alone is None:
        yield f"Alone it cannot be ordered: {short_of_minimum(job, row)}."
    else:
        yield f"Alone: {_order(job, row, row.alone)}{_lost(job, row.alone)} = {text(row.alone.total_minor)}."
    if row.alone is not None and asked.deposit_minor:
        yield _deposits(job, row, row.alone)
    if row.in_plan is not None:
        yield _in_plan(job, row.in_plan)
    if row.until_sound is not None and row.alone is not None:
        yield _until_sound(job, row, row.alone)
    elif row.alone is not None:
        yield "Until one works: no figure, since it is as good as never sound."


def short_of_minimum(job: Job, row: Quoted) -> str:
    """Why no order can be made."""
    least = job.currency.text(row.terms.minimum_order_minor)
    return f"all that {seller(row)} offers does not come to its minimum order of {least}"


def _order(job: Job, row: Quoted, landed: Landed) -> str:
    """The sums of an order by itself."""
    text = job.currency.text
    packs = counted(landed.packs, "pack") if row.quote.pack > 1 else f"{landed.packs}"
    said = f"{packs} x {text(row.quote.price_minor)}"
    if landed.top_up_minor:
        aim = "its minimum order" if landed.goods_minor < row.terms.minimum_order_minor else "free postage"
        said += f" + {text(landed.top_up_minor)} more goods to reach {aim}"
    if landed.postage_minor:
        return f"{said} + postage {text(landed.postage_minor)}"
    return f"{said}, postage waived" if row.terms.postage_minor else said


def _lost(job: Job, landed: Landed) -> str:
    return f" + {job.currency.text(landed.lost_minor)} deposits lost on pieces too many" if landed.lost_minor else ""


def _deposits(job: Job, row: Quoted, landed: Landed) -> str:
    """What is paid beside the price, and what of it comes back."""
    text = job.currency.text
    pieces = landed.packs * row.quote.pack
    whole = pieces * row.quote.deposit_minor
    back = f"{text(whole - landed.lost_minor)} of it comes back" if landed.lost_minor else "it comes back"
    each = text(row.quote.deposit_minor)
    return f"Deposits: {pieces} x {each} = {text(whole)} to pay now besides; {back} with the old units."


def _in_plan(job: Job, landed: Landed) -> str:
    text = job.currency.text
    if not landed.before_minor:
        return f"In the plan: nothing else is ordered there, so the same, {text(landed.total_minor)}."
    return (
        f"In the plan: the order there comes to {text(landed.before_minor)} without it and to"
        f" {text(landed.order_minor)} with it (postage {text(landed.postage_minor)}){_lost(job, landed)}"
        f" = {text(landed.total_minor)}."
    )


def _until_sound(job: Job, row: Quoted, alone: Landed) -> str:
    text, tries, sound = job.currency.text, row.until_sound, row.quote.good_chance
    assert tries is not None  # noqa: S101 - for the type checker
    again = f"postage {text(tries.again_minor)} for a replacement under warranty"
    if not tries.replaced:
        back = f" less {text(tries.refund_minor)} refunded" if tries.refund_minor else ""
        again = f"{text(alone.total_minor)} again{back}"
    return (
        f"Until one works: sound {sound:g} of the time, so {(1 - sound) / sound:.3f} fail on the average:"
        f" {text(alone.total_minor)} + {(1 - sound) / sound:.3f} x ({again}) = {text(tries.expected_minor)}"
        f"{', if another like it turns up: there is stock for one try only.' if tries.one_try else '.'}"
    )


def short_names(matrix: Matrix, longest: int) -> dict[str, str]:
    """For each supplier the first word of its name, or its first letters; of those alike the later get a number."""
    short: dict[str, str] = {}
    for supplier in matrix.suppliers:
        begins = next(iter(wording.supplier(matrix.job, supplier).split()), supplier)[:longest]
        taken, number = {name.casefold() for name in short.values()}, 1
        name = begins
        while name.casefold() in taken:
            number += 1
            name = f"{begins[: longest - len(str(number))]}{number}"
        short[supplier] = name
    return short


def legend(matrix: Matrix, short: Mapping[str, str]) -> str:
    whole = {supplier: wording.supplier(matrix.job, supplier) for supplier in matrix.suppliers}
    return "; ".join(f"{short[s]}: {whole[s]}" for s in matrix.suppliers if short[s] != whole[s])


def matrix_key() -> str:
    return (
        "Price each, the lowest of that supplier for the part in that condition; * the lowest of all. Blank: no quote"
        " that may be bought now."
    )
