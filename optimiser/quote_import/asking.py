"""What is asked about what was left out, and the words that settle it when typed as printed, the likeliest first."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from functools import cache

from optimiser.job_folder.problems import Place, shown
from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import Aside, Why
from optimiser.money import Currency
from optimiser.quote_import import (
    heeding,
    lexicon,
    numbers,
    pieces,
    prices,
    row_values,
    taxes,
)
from optimiser.quote_import.columns import as_mapped
from optimiser.quote_import.headings import NOT_ON_OFFER
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.plain_lines import AS_ABOVE, NO_SUPPLIER
from optimiser.quote_import.prices import AsWritten, Price
from optimiser.sheet_files import currencies
from optimiser.text import typed

EXPECTED = {
    "currency": "prices in the job's currency",
    "fitted": "prices of parts alone, without the work of fitting them",
    "tax": "prices of which it is known whether the tax is in them",
    "deposit": "deposits in a column of their own, as money",
    "discount": "prices with every discount taken off",
    "postage": "postage among the supplier's terms in suppliers.csv",
    "valid": "the last day of an offer as a date",
    "sale": "offers that can be bought",
    "pack": "how many pieces a price is for",
    "outdated": "prices that hold now",
    "money": "every amount in a column that is known",
    "condition": "one condition of each part",
    "quantity": "prices for one piece or for a pack",
}
"""What should stand there, by what is asked about."""
_GAP = re.compile(r"(?<![\d.,])(\d{1,6})\s+(?=\d+[.,]\d\d(?!\d))")
"""A gap within an amount, as a scan leaves it: "1 12.50"."""
_MISREAD = re.compile(r"\d[lIOoSB][\d.,]|(?<![\d.,])\d+\s+\d+(?![\d.,])")
"""A letter read for a figure, or a gap that may stand for the sign before decimals: "4l.00", "12 50"."""
_MOST_WAYS = 3
_FOR_SO_MANY = {"per", "je", "pro"}
"""Words of a heading above the numbers of pieces that prices are for."""
_AMOUNT = re.compile(rf"(?<![\d.,%-]){numbers.NUMBER}(?![\d%]|\s%)")
BEYOND_WORDS = 10**7
"""From here on an amount is more than the words for postage may name."""


def ask(
    at: Place,
    about: str,
    text: str,
    means: str = "",
    found: str = "",
    *,
    supplier: str = "",
    taxed: Callable[[Decimal], Decimal] | None = None,
    rate: str = "",
    one_row: bool = False,
    of_some: bool = False,
    names_part: bool = False,
    gone: str = "",
) -> None:
    """Note a text that speaks of money.

    ``one_row``: it is a remark on its row alone, ``supplier``: whose it is, ``taxed``: what a charge comes to with the
    tax of the prices, ``rate``: the percent of tax it may be, ``of_some``: it is about the tax in some prices,
    ``names_part``: it may be an offer in a sentence, ``gone``: the name of the row that may be sold by it.
    """
    nothing = typed("word", text, means or IGNORE)
    of_some = of_some or heeding.is_tax_of_some(text)
    ways = _ways(about, text, nothing, rate, one_row=one_row, of_some=of_some)
    if about == "postage" and not _of_order_terms(text):
        ways = _of_postage(text, found or text, supplier, nothing, taxed)
    if gone:
        ways = [f"that row is to be left out, {typed('word', gone, NOT_ON_OFFER)} {nothing}", *ways]
    if means and about == "deposit" and amounts_in(text):
        ways = [f"write the deposit into a column of its own; once that is done, {nothing}"]
    elif means and about != "tax":  # a name in other words is no name
        ways = [way for way in ways if nothing in way]
    written_out = ["if it is an offer, write it as a name, a dash and one price: Name - £12.50"][:names_part]
    mend = f"say what it means: {'; or '.join([*ways, *written_out])}"
    at.complain(about, found=shown(found or text, 120), expected=EXPECTED[about], mend=mend)


def ask_by_hand(at: Place, text: str) -> None:
    """Note a sentence that speaks of another price than one that was read: nobody but a person can tell which holds."""
    mend = "put the price that holds into the row of the part, and take this line out of the sheet"
    at.complain("money", found=shown(text, 120), expected="one price of a part", mend=mend)


def _ways(about: str, text: str, nothing: str, rate: str, *, one_row: bool, of_some: bool) -> list[str]:
    changes_nothing = f"it changes nothing, {nothing}"
    if first := _first_by_hand(about, text, one_row=one_row, of_some=of_some):
        return [f"{first}, {nothing}"]
    if about == "tax":
        return _of_tax(text, rate, one_row=one_row)
    if not one_row and (terms_said := _of_order_terms(text)):
        return [*terms_said, changes_nothing]
    done = {"discount": "it is taken off already", "outdated": "the prices hold still"}.get(about)
    if done:
        off = [] if one_row else _of_discount(text)
        return [*off, f"{done}, {nothing}", *["else put the prices that you will pay into the sheet"][: not off]]
    likely = _of_remark(about, text) if one_row else _of_line(about, text)
    if about == "pack" and one_row and not _says_it(about, text):
        return [f"leave that row out, {typed('word', text, NOT_ON_OFFER)}", *likely, changes_nothing]
    return [*likely, changes_nothing] if likely and _says_it(about, text) else [changes_nothing, *likely]


def _of_order_terms(text: str) -> list[str]:
    """A line may name the least that an order comes to, or, without the postage, the goods from which on it is free."""
    amounts, into = set(amounts_in(text)), "which --accept writes into suppliers.csv"
    if len(amounts) == 1 and max(amounts) < BEYOND_WORDS and _least_order().search(text):
        return [f"it is what an order must come to, {into}, {typed('word', text, f'minimum order {max(amounts)}')}"]
    waived = free_over(text)
    if waived is not None and amounts == {waived}:
        return [f"postage is free from so much on, {into}, {typed('word', text, f'free over {waived}')}"]
    return []


@cache
def _least_order() -> re.Pattern[str]:
    return lexicon.any_of(lexicon.headings().heeded["least_order"])


def _first_by_hand(about: str, text: str, *, one_row: bool, of_some: bool) -> str:
    """What only a person can put right in the sheet, before the text may be passed over; empty for anything else."""
    with_duty = not lexicon.headings().heeded["duties"].isdisjoint(plain(text).split())
    wanted = "the prices that you will pay, duty and all," if with_duty else "the prices of the parts alone"
    if with_duty or about == "fitted":
        return f"put {wanted} into the sheet; once that is done"
    if about == "tax" and not one_row and of_some:
        beside = 'write "plus VAT" or "inc VAT" behind each price in the sheet'
        return f"{beside}; once that is done, or if the prices have it in them"
    if one_row and not lexicon.headings().prices["now"].isdisjoint(plain(text).split()) and amounts_in(text):
        return "put the price that holds into its row; once that is done"
    if about == "deposit" and not one_row and len(set(amounts_in(heeding.without_times(text)))) > 1:
        return "write the deposit of each part into a column of its own; once that is done"
    return ""


def _says_it(about: str, text: str) -> bool:
    """Whether a text says the very thing that the way to settle it sets; else that way comes after one that cannot lead
    to a wrong price.
    """
    if about == "condition":
        return any(map(_is_of_everything, re.split(r"[,.;:]\s", text)))
    of_amount = about == "deposit" and bool(amounts_in(_behind_plus(heeding.without_times(text))))
    of_day = about == "valid" and len(row_values.days_in(text)) == 1
    return about == "sale" or of_day or of_amount or (about == "pack" and pieces.in_name(text)[0] > 0)


def _is_of_everything(clause: str) -> bool:
    """Whether a clause says a condition of all goods: of every one of them, or, as a title, of no others."""
    named, rest, _ = row_values.condition(clause, strong_only=True)
    known = lexicon.headings()
    every = not known.rows["every"].isdisjoint(plain(rest).split())
    return named is not None and (every or heeding.says_no_more(rest, known.suppliers["of_titles"]))


def _of_discount(text: str) -> list[str]:
    """A line may take so much off all prices, for everybody."""
    known, words, percent = lexicon.headings(), set(plain(text).split()), numbers.PERCENT.findall(text)
    is_of_all = (
        words & known.rows["every"] and words & known.heeded["money"] and words.isdisjoint(known.heeded["terms"])
    )
    off = typed("word", text, f"discount {percent[0]}") if len(percent) == 1 else ""
    return [f"it is to be taken off all prices, {off}"] if off and is_of_all else []


def _of_postage(
    text: str, said: str, supplier: str, nothing: str, taxed: Callable[[Decimal], Decimal] | None
) -> list[str]:
    """The one amount goes among the supplier's terms, beside prices without the tax with theirs; of several a person
    must choose.
    """
    waived = free_over(said)
    priced = said if waived is None else _free_over().sub(" ", said)
    amounts = [each for each in amounts_in(priced) if each != 1] or amounts_in(priced)  # one delivery
    amounts = [each for each in amounts if each != waived]
    if len(set(amounts)) != 1:
        return [f"it is postage: {terms(supplier, said)}, and leave it out here, {nothing}"]
    costs, as_it_is = "it is what an order costs, which --accept writes into suppliers.csv", amounts[0]
    whole = as_it_is if taxed is None else taxed(as_it_is)
    free = "" if waived is None else f" free over {waived}"
    ways = [f"{costs}, {typed('word', text, f'postage {as_it_is}{free}')}"]
    if taxed is not None and whole != as_it_is:
        free_of_whole = "" if waived is None else f" free over {taxed(waived)}"  # they reckon with their own goods
        ways = [
            f"{costs}, with the tax of the prices on top, {typed('word', text, f'postage {whole}{free_of_whole}')}",
            f"its tax is in it already, {typed('word', text, f'postage {as_it_is}{free}')}",
        ]
    return [*ways, f"it changes nothing, {nothing}"]


def free_over(text: str) -> Decimal | None:
    """The goods from which on nothing is asked for postage, if a text says so of one amount: "free over £75"."""
    found, amounts = _free_over().search(text), amounts_in(heeding.without_times(text))
    value = numbers.digits(found[1]) if found else None
    waived = None if value is None else value.value
    return waived if waived is not None and waived == max(amounts, default=None) and waived < BEYOND_WORDS else None


@cache
def _free_over() -> re.Pattern[str]:
    known = lexicon.headings()
    free, above = lexicon.any_of(known.prices["free"]).pattern, lexicon.any_of(known.heeded["above_goods"]).pattern
    return re.compile(
        rf"{free}[^\d.;]{{0,30}}?{above}[^\d.;]{{0,20}}?(\d[\d.,]*\d|\d)(?!\s?(?:am|pm|uhr|h|st|nd|rd|th)\b|:)",
        re.IGNORECASE,
    )


def of_order(supplier: str) -> str:
    """How a person speaks of what an order costs, where the sheet has several amounts."""
    return f"postage of {supplier}"


def ways_of_order(supplier: str, amounts: Iterable[Decimal], before: str = "") -> str:
    """What to type for each of the amounts, the most first."""
    dearest_first = sorted(set(amounts), reverse=True)[:_MOST_WAYS]
    return "; or ".join(f"{before}{typed('word', of_order(supplier), str(each))}" for each in dearest_first)


def of_postage_there(named: str, cell: str, else_: str, supplier: str, *, one: bool) -> str:
    """Money under a heading for the time that it takes."""
    if one:
        return f"if it is what an order costs, {as_mapped(named, 'postage')}; else {else_}"
    return f"{else_}; it is postage: {terms(supplier, cell)}"


def terms(supplier: str, said: str) -> str:
    """The row to write among the suppliers' terms, with the amount that is said if it is one."""
    amounts = amounts_in(said)
    amount = str(amounts[0]) if len(amounts) == 1 else "AMOUNT"
    return f"write {supplier or 'THEIR-NAME'},{amount} below supplier,postage in suppliers.csv"


def amounts_in(said: str) -> list[Decimal]:
    """The amounts in a text: those with a sign of a currency, or, where there is none, every number that may be one."""
    marked = [each.value for each in prices.in_text(said) if each.value is not None]
    found = (numbers.digits(each.rstrip(" .,'")) for each in _AMOUNT.findall(said))
    read = [each.value for each in found if each is not None and each.value is not None]
    return marked or read


def _of_line(about: str, text: str) -> list[str]:
    """A line may give all parts their condition, or its one amount comes on top of every exchange part."""
    named = row_values.condition(text, strong_only=True)[0]
    amounts = set(amounts_in(_behind_plus(heeding.without_times(text))))
    if about == "condition" and named is not None:
        return [f"all parts below it are {named}, {typed('word', text, f'all {named}')}"]
    if about == "deposit" and len(amounts) == 1:
        return [f"it comes on top of each exchange part, {typed('word', text, f'deposit {min(amounts)}')}"]
    if about == "deposit":
        return [f"it comes on top of each exchange part, with your amount, {typed('word', text, 'deposit 25')}"]
    return _of_last_day(text) if about == "valid" else []


def _behind_plus(text: str) -> str:
    """What comes on top of a sum of money before it: "£92 plus deposit" names none."""
    before, plus, behind = text.rpartition(" plus ")
    return behind if plus and amounts_in(before) else text


def _of_last_day(text: str) -> list[str]:
    named = row_values.days_in(text)
    if len(named) == 1:
        both = sorted(row_values.days_in(text, day_first=None), key=lambda day: day not in named)
        return [f"the last day, {typed('word', text, f'valid until {day.isoformat()}')}" for day in both]
    return [f"the last day, with your date, {typed('word', text, 'valid until 2026-12-31')}"]


def _of_remark(about: str, text: str) -> list[str]:
    """What a remark may say of its own row."""
    if about == "valid":
        return _of_last_day(text)
    if about == "sale":
        return [f"that row is to be left out, {typed('word', text, NOT_ON_OFFER)}"]
    if about == "pack":
        count = pieces.in_name(text)[0] or _only_number(text) or pieces.likely(text)
        return [f"the price is for so many, {typed('word', text, f'pack of {count}')}"]
    amount = next(map(str, amounts_in(text)), "")
    if about == "deposit" and amount:
        return [f"it comes on top of the price, {typed('word', text, f'deposit {amount}')}"]
    if about == "deposit":
        return [f"it comes on top of the price, with your amount, {typed('word', text, 'deposit 25')}"]
    return []


def _only_number(text: str) -> int:
    """The one whole number in a text; 0 where there is none, or more than one."""
    found = re.findall(r"\d{1,4}", text)
    return int(found[0]) if len(found) == 1 else 0


def _of_tax(text: str, rate: str, *, one_row: bool) -> list[str]:
    """The tax is to be added, or it is in the price; a firm that is not registered adds none."""
    proven, rate = rate, next(iter(numbers.PERCENT.findall(text)), rate or "20")
    inside = f"it is in the price, {typed('word', text, 'inc VAT' if one_row else 'prices include VAT')}"
    added = f"it is to be added to all prices, with your rate, --ex-tax {rate}"
    if one_row:
        added = f"it is to be added to this price, with your rate, {typed('word', text, 'plus VAT')} --ex-tax {rate}"
    if heeding.is_untaxed(text, used=True):
        return [inside]
    is_inside = taxes.in_line(text) == "inside" or (not proven and taxes.in_line(text) == "with")
    is_inside = is_inside or not lexicon.headings().tax["none"].isdisjoint(plain(text).split())
    return [inside, added] if is_inside else [added, inside]


def of_column(
    named: str,
    about: str,
    cell: Price,
    price: str,
    supplier: str,
    *,
    amounts: Sequence[Decimal],
    ordered: bool,
    of_lines: bool = False,
) -> str:
    """What a column of figures may be.

    ``price``: the heading of the prices, where the column is a least number; ``amounts``: the different ones in it;
    ``ordered``: the sheet has a column for what is to be had, or totals of what was ordered; ``of_lines``: the prices
    add up as they stand, so that each is for as many as its line says.
    """
    nothing, pack = as_mapped(named, IGNORE), as_mapped(named, "pack")
    if about == "quantity":
        return _of_quantity(nothing, pack, named, price, ordered=ordered, of_lines=of_lines)
    if about == "discount":
        return f"it is taken off already, {nothing}; else put the prices that you will pay into the sheet"
    if about == "postage" and (supplier or len(amounts) == 1):
        way = as_mapped(named, "postage")
        way = way if len(amounts) == 1 else ways_of_order(supplier, amounts, f"{way} ")
        return f"what an order costs, which --accept writes into suppliers.csv, {way}; it changes nothing, {nothing}"
    if about == "postage":
        return f"{terms(supplier, '')}, for each supplier, and leave it out here: {nothing}"
    return _of_figures(named, cell, nothing)


def _of_quantity(nothing: str, pack: str, named: str, price: str, *, ordered: bool, of_lines: bool) -> str:
    if price and _least_order().search(plain(named)):
        terms_of = "write it below minimum_order in suppliers.csv"
        least = f"if an order must come to so much, {terms_of}, and leave it out here, {nothing}"
        return f"{least}; if each is a pack, {pack}"
    if price:
        each = as_mapped(price, "price_each")
        return f"each price is for one of so many, {pack} {each}; it is for all of them, {pack}"
    if of_lines:
        return f"each price is for so many, as their sum shows, {pack}; it is for one piece, {nothing}"
    ways = f"each price is for one piece, {nothing}; it is for so many, {pack}"
    return ways if ordered else f"so many are to be had at that price each, {as_mapped(named, 'stock')}; {ways}"


def _of_figures(named: str, cell: Price, nothing: str) -> str:
    """What a column of figures of which nothing is known may be."""
    if plain(named) in currencies.SMALL:
        return f"write the whole price into one column, such as 4.50; if it is no part of the price, {nothing}"
    if not lexicon.headings().heeded["deposit"].isdisjoint(plain(named).split()):
        on_top = f"if it comes on top of each exchange part, {as_mapped(named, 'deposit')}"
        return f"{on_top}; if it is no part of the price, {nothing}"
    if isinstance(cell, AsWritten) and not cell.currency and not prices.has_decimals(cell):
        pack, stock = as_mapped(named, "pack"), as_mapped(named, "stock")
        if not (lexicon.headings().prices["pack"] | _FOR_SO_MANY).isdisjoint(plain(named).split()):
            return (
                f"if each price is for so many, {pack}; if it has nothing to do with the price, {nothing}; else {stock}"
            )
        other = f"{pack} or {stock}"
        return f"if it has nothing to do with the price, {nothing}; else {other}"
    other = f"{as_mapped(named, 'price')} or {as_mapped(named, 'deposit')}"
    return f"if it is no part of the price, {nothing}; else {other}"


def of_words(named: str, about: str, cell: str) -> str:
    """What a column of words may be."""
    if about == "sale":
        out = typed("word", cell, NOT_ON_OFFER)
        return f"if it says that the offer is gone, {out}; or, if it changes no price, {as_mapped(named, IGNORE)}"
    if about == "money":
        nothing = as_mapped(named, IGNORE)
        return f"if it changes no price, {nothing}; else put the prices that you will pay into the sheet"
    columns = {"pack": "pack", "tax": "tax_said", "currency": "currency"}
    ways = [as_mapped(named, column) for column in (columns.get(about, "note"), IGNORE)]
    if about == "pack" and row_values.count(cell) is None:
        return f"if it changes no price, {ways[1]}; else {as_mapped(named, 'note')}"
    return f"say what it is: {ways[0]}; or, if it changes no price, {ways[1]}"


def of_row(kind: Why, row: Aside, first: str, currency: Currency) -> str:
    """How a row about a part of the job is settled that cannot be taken as it stands."""
    if row.reason == row.about:
        ways = (typed("word", row.about, meaning) for meaning in (IGNORE, "as it stands"))
        return f"say whether it counts: {' or '.join(ways)}"
    if kind is Why.CONDITION and row.about:
        is_kept = row_values.is_kept(row.about)
        out, sound = (typed("word", row.about, means) for means in (NOT_ON_OFFER, IGNORE if is_kept else "salvage"))
        if is_kept or "not working" in row.reason:
            return f"leave such rows out: {out}; if you can use it all the same, {sound}"
        return f"say what it means: {sound}, or new, refurbished, {NOT_ON_OFFER}"
    if not row.about and (kind is Why.CONDITION or kind is Why.SUPPLIER):
        above = typed("word", NO_SUPPLIER, AS_ABOVE)
        of_supplier = f"if they are offers of the supplier named above them, {above}; if not, write theirs beside each"
        of_condition = "say what those rows are: --condition salvage, or new, refurbished"
        return of_condition if kind is Why.CONDITION else of_supplier
    if not row.about:
        return f"put it right in the sheet, or leave the row out: {typed('word', first, IGNORE)}"
    return _of_tax_said(row.about) if kind is Why.TAX else _of_amount(kind, row, currency)


def _of_tax_said(cell: str) -> str:
    with_it, on_top = (typed("word", cell, means) for means in ("inc VAT", "plus VAT"))
    return f"say what it means: the tax is in the price, {with_it}; or it comes on top, {on_top}"


def _out_of_small_coin(amounts: list[Decimal], said: str, currency: Currency) -> list[Decimal]:
    """The amounts in the currency: of a text that says pence the one number, if it is whole, and else none."""
    if not any(currencies.is_small(word, currency) for word in re.findall(r"[^\W\d_]+", said)):
        return amounts
    whole = [each.scaleb(-currency.places) for each in amounts if each == int(each)]
    return whole if len(amounts) == 1 and not currencies.SIGN.search(said) else []


def _of_amount(kind: Why, row: Aside, currency: Currency) -> str:
    out = typed("word", row.about, NOT_ON_OFFER)
    read = _GAP.sub(r"\1", numbers.in_figures(row.about))
    amounts = (amounts_in(read) or numbers.spelt(read)) if kind is Why.PRICE and not _MISREAD.search(read) else []
    amounts = [each for each in amounts if each.as_tuple().exponent] or amounts  # "2.70 10+"
    amounts = _out_of_small_coin(amounts, row.about, currency)
    named, _, why = row_values.condition(row.about, strong_only=True)
    is_lump = kind is Why.PRICE and prices.is_lump(row.about)
    if is_lump or (amounts and (named is not None or why.endswith("at once"))):
        own = (
            "what each part costs by itself beside it"
            if is_lump
            else "each price and its condition into cells of their own"
        )
        return f"leave such rows out: {out}; or write {own}"
    if amounts and "price" in row.reason and "below" not in row.reason:
        for_one = len(set(amounts)) > 1 and heeding.kind(row.about) == "pack"  # "42.00 each (80.00 pair)"
        less = for_one or not lexicon.headings().prices["was"].isdisjoint(plain(row.about).split())
        figure = typed("word", row.about, str(min(amounts) if less else max(amounts)))
        if not lexicon.headings().prices["none"].isdisjoint(plain(row.about).split()):
            return f"leave such rows out: {out}; if you can buy it at that, {figure}"
        unit = pieces.MEASURE.search(row.about)
        which = f" for all that you need, and not for one {unit['unit']}" if unit else ""
        pays, out = f"if you will pay that{which}", f"leave such rows out: {out}"
        lost = f"{out}; {pays} for one and give up what more of them cost, {figure}; else write each price into a row"
        return lost if for_one else f"{pays}, {figure}; else {out}"
    if kind is Why.PRICE:
        return f"leave such rows out: {out}; or put the price that you will pay into the sheet"
    return _of_count(row, out)


def _of_count(row: Aside, out: str) -> str:
    """How a pack, or a deposit, is settled that is no number."""
    figure = typed("word", row.about, "0" if "deposit" in row.reason else str(_only_number(row.about) or 1))
    if "pack" in row.reason and _only_number(row.about):
        return f"if each pack holds so many, {figure}; else leave such rows out: {out}"
    if "deposit" in row.reason and plain(row.about) in taxes.YES_OR_NO:
        return f"if none comes on top, {figure}; else with your amount, {typed('word', row.about, '25')}"
    ways = [f"leave such rows out: {out}", f"say what it means, with your number: {figure}"]
    return "; or ".join(ways if "deposit" in row.reason else reversed(ways))
