"""Which columns are what by their cells: headings that these belie, and columns whose headings nobody knows."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise, permutations, product
from operator import add, mul

from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import How, Known, TakenRow, Told
from optimiser.money import Currency
from optimiser.quote_import import (
    columns,
    headings,
    heeding,
    lexicon,
    likely,
    pieces,
    pinned_notes,
    price_basis,
    prices,
    row_values,
)
from optimiser.quote_import.beside_prices import NEAR
from optimiser.quote_import.columns import ColumnLayout
from optimiser.quote_import.headings import PRICES, SIDED, Meaning
from optimiser.quote_import.naming import Parts, Suppliers
from optimiser.sheet_files.grid import Grid, SheetLine, Value, cell_at, text_alone

_LOOKED_AT = 500
_LEAST_CODE = 100
_MOST_ABOVE = 40
"""Lines among which a list without headings begins."""
_YEAR = re.compile(r"\b(?:19|20)\d\d\b")
_LONGEST = 500
_EXPLAINS = re.compile(
    r"(?:^|[.;:,] )\s*([^=.;:,]{1,30}?\.?) ?(?:=|\b(?:is|means|est|ist|bedeutet|significa|è|är|er)\b)"
    r" ?(?:what is )?([^.;=]+)"
)
"""A heading, and what stands below it."""
_MAY_BE_NONE = ("type", "grade", "quality", "status")
"""Headings that say something else than the condition as often."""


def laid_out(grid: Grid, known: Known, told: Told) -> ColumnLayout | None:
    """The headings of a sheet, without those that their cells belie: packs that are amounts, suppliers in figures."""
    found = _found(grid, known, told)
    if found is None:
        return None
    pinned_notes.beside_rows(found)
    price_basis.by_number(found)
    price_basis.by_whole_packs(found)
    singly = price_basis.are_sold_singly(found)
    if not found.has("pack"):
        found.meanings = [
            replace(each, sold_singly=singly)
            if each.column in PRICES
            else replace(each, column="pack")
            if each.column == "price_for" and not singly
            else each
            for each in found.meanings
        ]
    belied: dict[str, Callable[[Value], bool]] = {
        "pack": prices.is_sum,
        "supplier": _is_no_firm,
        "side": _is_no_side,
        "condition": prices.is_amount,
        "references": lambda cell: not prices.is_amount(cell),  # in German "was" is what
    }
    if len(found.of(*PRICES)) > 1:
        belied |= dict.fromkeys(PRICES, _is_code)
    if len(found.of("part")) > 1:
        belied["part"] = prices.is_amount  # "line" beside "item": the number of the line
    for index, meaning in enumerate(found.meanings):
        kind = meaning.kind if meaning.kind in belied else meaning.column
        cells = _below_of_parts(found, index) if kind in belied else []
        if cells and meaning.how is not How.TOLD and all(map(belied[kind], cells)):
            counts = meaning.column == "side" or (meaning.column == "part" and not any(map(prices.is_sum, cells)))
            found.meanings[index] = Meaning("", kind="harmless" if counts else "")
            found.left_out[index] = f"its cells are no {kind}"
        elif meaning.column == "part" and meaning.how is not How.TOLD and _are_states(found.below(index)):
            found.meanings[index] = Meaning("condition", How.CELLS)
        elif meaning.column == "condition" and meaning.how is not How.TOLD and _are_of_stock(found, index):
            found.meanings[index] = Meaning("stock", How.CELLS)
        elif meaning.kind == "postage" and (below := found.below(index)) and all(map(heeding.is_wait, below)):
            found.meanings[index] = Meaning("lead_days", How.CELLS)
    _no_codes(found)
    _explained(found, known.currency)
    _packs_in_notes(found)
    _counted_packs(found)
    _discounted(found, known.currency)
    _own_headings(found, known)
    _price_of_its_unit(found, known.currency)
    price_basis.of_packing(found, known.currency)
    _sums(found)
    _breaks(found)
    return found


def _are_states(cells: Sequence[Value]) -> bool:
    """Whether cells name conditions and nothing else, as under "parts used"."""
    read = [row_values.condition(cell, strong_only=True) if isinstance(cell, str) else None for cell in cells]
    return bool(cells) and all(each is not None and each[0] is not None and not each[1] for each in read)


def _are_of_stock(found: ColumnLayout, index: int) -> bool:
    """Whether a column for the state says of everything whether it is to be had, or sold."""
    said = [cell for cell in found.below(index) if cell != headings.NOT_ON_OFFER and not row_values.is_sold((cell,))]
    return bool(said) and not found.has("stock") and all(map(row_values.is_of_stock, said))


def _no_codes(found: ColumnLayout) -> None:
    """Small whole numbers are no codes where one stands twice, and no numbers of lines where they do not rise."""
    for index, each in enumerate(found.meanings):
        words, numbers = lexicon.bare(found.texts[index]).split(), lexicon.headings().qualifiers["numbers"]
        of_codes = each.column == "ref" and not numbers.isdisjoint(words)
        if each.how is How.TOLD or not (of_codes or (each.kind == "harmless" and numbers.issuperset(words))):
            continue
        counts = [_number(cell) for cell in _below_of_parts(found, index)]
        whole = [each for each in counts if each is not None and each == int(each) and each < _LEAST_CODE]
        told_apart = len(set(whole)) == len(whole) if each.column == "ref" else whole == sorted(set(whole))
        if len(whole) == len(counts) and not told_apart:
            found.meanings[index] = Meaning("")
            found.left_out[index] = "its cells are small numbers"


def _explained(found: ColumnLayout, currency: Currency) -> None:
    """Headings that a line of text explains: "Qty is what is on the shelf", "Cond. = number of pieces"."""
    for text in filter(None, map(text_alone, found.grid.lines)):
        for name, said in _EXPLAINS.findall(text[:_LONGEST]):
            means = headings.meaning(said.strip(), currency)
            column = "pack" if means.kind == "quantities" else means.column
            for index, each in enumerate(found.meanings):
                words = lexicon.plain(found.texts[index]).split()
                counts = each.column in ("", IGNORE) and each.kind in ("", *["quantities"][: column == "stock"])
                of_whole = column in ("stock", "pack") and counts and lexicon.plain(name) == " ".join(words)
                of_price = column == "price_each" and each.column in PRICES and lexicon.plain(name) in words
                if (of_whole or of_price) and each.how is not How.TOLD:
                    found.meanings[index] = replace(each, column=column, how=How.CELLS, kind="")


def _packs_in_notes(found: ColumnLayout) -> None:
    """Remarks that all say how many pieces a price is for, and no more: "each", "the pair", "set of 6"."""
    unknown = [index for index in found.of("") if found.texts[index] and not found.is_lettered]
    for index in (*found.of("note"), *unknown) if not found.has("pack") else ():
        counts = list(map(row_values.count, found.below(index)))
        words = all(isinstance(cell, str) and not prices.is_amount(cell) for cell in found.below(index))
        if words and len(counts) > 1 and None not in counts:
            found.meanings[index] = Meaning("pack", How.CELLS)


def _counted_packs(found: ColumnLayout) -> None:
    """Of two columns of packs that which counts the pieces goes first, where the other names what holds them: "box"."""
    holders, counted = list[int](), list[int]()
    for index in found.of("pack"):
        cells = found.below(index)
        (counted if all(map(prices.is_amount, cells)) else holders).append(index)
    if len(holders) != 1 or len(counted) != 1 or found.meanings[holders[0]].how is How.TOLD:
        return
    pairs = [(cell_at(row.cells, holders[0]), row_values.count(cell_at(row.cells, counted[0]))) for row in found.rows]
    if all(
        not isinstance(one, str) or row_values.is_holder(one) or row_values.count(one) == many for one, many in pairs
    ):
        found.meanings[holders[0]] = Meaning("pack", How.CELLS)


def _below_of_parts(found: ColumnLayout, index: int) -> list[Value]:
    """The cells of a column in lines that name a part, if any does: not those of sums at the foot."""
    names = [name for name in found.of("part") if name != index]
    named = [line for line in found.rows if any(cell_at(line.cells, name) is not None for name in names)]
    return likely.below(named or found.rows, index)


def _found(grid: Grid, known: Known, told: Told) -> ColumnLayout | None:
    """The line of headings; above a list that has none, one with the letters of its columns."""
    named = {heading: column for heading, column in told.columns.items() if not columns.LETTERED.fullmatch(heading)}
    if columns.find(grid, known.currency, named) is None:
        first = _first_quote(grid, Parts(known, told))
        if first is not None:
            number, width = grid.lines[first].number, max(len(line.cells) for line in grid.lines[first:])
            if not _is_lettered(grid.lines[first - 1 : first]):
                letters = tuple(f"column {columns.letter(index)}" for index in range(width))
                grid.lines.insert(first, SheetLine(number, letters))
                first += 1
            return columns.at_line(grid, first - 1, known.currency, told.columns)
    return columns.find(grid, known.currency, told.columns)


def _is_lettered(lines: Sequence[SheetLine]) -> bool:
    return any(cell == "column A" for line in lines for cell in line.cells[:1])


def _first_quote(grid: Grid, parts: Parts) -> int | None:
    """The first of the lines with amounts, one of which names a part of the job, if no line of as many texts stands
    right above it.
    """
    for index, line in enumerate(grid.lines[:_MOST_ABOVE]):
        texts = [cell for cell in line.cells if isinstance(cell, str) and not prices.is_amount(cell)]
        if any(map(parts.may_be_named_in, texts)) and any(map(_holds_amount, line.cells)):
            before = range(index - 1, -1, -1)
            first = next((at + 1 for at in before if not _is_priced(grid.lines[at])), 0)
            above = [cell for each in grid.lines[max(0, first - 1) : first] for cell in each.cells if cell is not None]
            as_many = len(above) > 1 and len(above) >= sum(cell is not None for cell in line.cells)
            return None if as_many and not _is_lettered(grid.lines[first - 1 : first]) else first
    return None


def _is_priced(line: SheetLine) -> bool:
    return len(line.cells) > 1 and any(map(prices.is_amount, line.cells))


def _is_in_brackets(cell: Value) -> bool:
    return isinstance(cell, str) and cell[:1] == "("


def _holds_amount(cell: Value) -> bool:
    return prices.is_amount(cell) or (isinstance(cell, str) and bool(prices.in_text(cell)))


def _price_of_its_unit(found: ColumnLayout, currency: Currency) -> None:
    """A price "per unit", or "price/box", beside a column "unit" or "box" is that of what stands there."""
    nothing = lexicon.headings().qualifiers["neutral"] | {"sale"}  # "unit of sale"
    units = [
        set(lexicon.plain(found.texts[i]).split()) - nothing
        for i, each in enumerate(found.meanings)
        if each.column == "pack"
    ]
    for index, each in enumerate(found.meanings):
        words = lexicon.plain(found.texts[index]).split()
        for unit in filter(None, units) if each.column in ("", "unit_price") else ():
            rest = headings.meaning(" ".join(word for word in words if word not in unit), currency)
            of_unit = unit <= set(words) and lexicon.headings().qualifiers["per"].intersection(words)
            if each.column and (of_unit or _is_per_unit(found, index)):
                found.meanings[index] = replace(each, column="price")
            elif not each.column and unit <= set(words) and rest.column == "price":
                found.meanings[index] = rest


def _is_per_unit(found: ColumnLayout, price: int) -> bool:
    """Whether the quantities that make up the totals count units with a column of their own, as one pair proves."""
    counts, totals = found.of_kind("quantities"), found.of_kind("totals")
    of_units = [i for i in found.of("pack") if lexicon.plain(found.texts[i]) in lexicon.headings().prices["each"]]
    if not len(counts) == len(totals) == len(of_units) == 1 or not _follows(found, totals[0], mul, price, counts[0]):
        return False
    for row in found.rows:
        count, pack = _number(cell_at(row.cells, counts[0])), row_values.count(cell_at(row.cells, of_units[0]))
        if count and pack and count % pack:
            return True
    return False


def _sums(found: ColumnLayout) -> None:
    """What follows from other columns in every row: a total from price and quantity, or the price from the total and
    the quantity, a price from net and tax, what is to be paid from price and deposit.
    """
    of_price, counts, totals = found.of(*PRICES), found.of_kind("quantities"), found.of_kind("totals")
    for index in (*_unknown(found), *of_price) if len(counts) == 1 else ():
        each, own = [i for i in of_price if i != index], found.meanings[index]
        if len(each) == 1 and own.how is not How.TOLD and _follows(found, index, mul, each[0], counts[0]):
            was, of_price = found.meanings[each[0]], each
            found.meanings[each[0]] = replace(was, tax=was.tax or own.tax)
            found.meanings[index] = Meaning(IGNORE, How.CELLS, kind="totals")
        elif not of_price and len(totals) == 1 and _follows(found, totals[0], mul, index, counts[0]):
            found.meanings[index] = Meaning("price_each", How.CELLS)
    taxes = found.of("tax", "tax_amount")
    for index in _unknown(found) if not of_price and not counts and len(totals) == len(taxes) == 1 else ():
        if _follows(found, totals[0], add, index, taxes[0]):
            found.meanings[totals[0]] = Meaning("price", How.CELLS, tax="with")
            found.meanings[index] = Meaning(IGNORE, How.CELLS, kind="other_money")
    deposits = found.of("deposit")
    for index in _unknown(found) if len(of_price) == len(deposits) == 1 else ():
        if _follows(found, index, add, of_price[0], deposits[0]):
            found.meanings[index] = Meaning(IGNORE, How.CELLS, kind="other_money")
    _of_lines(found)
    _gross_of_lines(found)
    net, tax = [i for i in of_price if found.meanings[i].tax == "without"], found.of("tax", "tax_amount")
    for index in of_price if len(net) == len(tax) == 1 else ():
        if not found.meanings[index].tax and _follows(found, index, add, net[0], tax[0]):
            found.meanings[index] = replace(found.meanings[index], tax="with")


def _of_lines(found: ColumnLayout) -> None:
    """Take the prices from the totals of the lines, where what is to be paid stands there alone."""
    of_price, counts, totals = found.of(*PRICES), found.of_kind("quantities"), found.of_kind("totals")
    if len(totals) != 1 or len(counts) > 1 or not _are_of_lines(found, totals[0], of_price, counts):
        return
    was, own = found.meanings[of_price[0]] if of_price else Meaning("price_each"), found.meanings[totals[0]]
    found.meanings[totals[0]] = replace(was, how=How.CELLS, tax=own.tax or was.tax, of_line=bool(counts))
    for index in of_price:
        found.meanings[index] = Meaning(IGNORE, How.CELLS, kind="references")


def _gross_of_lines(found: ColumnLayout) -> None:
    """Take the prices from what is to be paid for each line, where it is so many of the price beside it and the tax."""

    def to_pay(each: Decimal, count: Decimal, tax: Decimal) -> Decimal:
        return each * count + tax

    counts, taxes = found.of_kind("quantities"), found.of("tax", "tax_amount")
    pairs = permutations(found.of(*PRICES), 2) if len(counts) == len(taxes) == 1 else ()
    for each, gross in pairs:
        own = found.meanings[gross]
        if own.how is not How.TOLD and _follows(found, gross, to_pay, each, counts[0], taxes[0]):
            found.meanings[gross] = replace(own, how=How.CELLS, tax="with", of_line=True)
            found.meanings[each] = Meaning(IGNORE, How.CELLS, kind="other_money")
            return


def _are_of_lines(found: ColumnLayout, total: int, of_price: Sequence[int], counts: Sequence[int]) -> bool:
    """Whether what is to be paid stands in a column of totals alone: less the discount beside the price in every row,
    or where no other price stands, as a sum of it at the foot proves.
    """
    discounts = found.of_kind("discounts")
    if len(of_price) == len(discounts) == 1 and found.meanings[of_price[0]].how is not How.TOLD:
        factors = (of_price[0], discounts[0], *counts)
        return _follows(found, total, lambda price, off, count=Decimal(1): _less(price, off) * count, *factors)
    others = (index for index in _unknown(found) if likely.like_prices(found.below(index)) > 1)
    if of_price or not counts or found.has("deposit") or next(others, None) is not None:
        return False
    own, foot, is_more = Decimal(0), set[Decimal](), False
    for line in found.rows:
        amount, count = _number(cell_at(line.cells, total)), _number(cell_at(line.cells, counts[0]))
        if count:
            own, is_more = own + (amount or 0), is_more or count != 1
        elif amount:
            foot.add(amount)
    return is_more and own in foot


def _breaks(found: ColumnLayout) -> None:
    """Numbers from which prices of one piece hold are packs where a part stands again, more of it for less each."""
    bands = [index for index in found.of_kind("quantities") if any(map(_is_band, found.below(index)))]
    least, names, of_price = found.of_kind("least") or bands, found.of("part"), found.of(*PRICES)
    if len(least) != 1 or not names or of_price != found.of("price_each") or len(of_price) != 1 or found.has("pack"):
        return
    steps: dict[Value, list[tuple[int, Decimal]]] = {}
    for line in found.rows:
        count, price = row_values.least(cell_at(line.cells, least[0])), _number(cell_at(line.cells, of_price[0]))
        if count is not None and price is not None:
            steps.setdefault(cell_at(line.cells, names[0]), []).append((count, -price))
    pairs = [pair for each in steps.values() for pair in pairwise(each)]
    if pairs and all(more > less and cheaper > dearer for (less, dearer), (more, cheaper) in pairs):
        found.meanings[least[0]] = Meaning("pack", How.CELLS)


def _is_band(cell: Value) -> bool:
    """Whether a cell says from how many on: "10+", "ab 10"."""
    return row_values.count(cell) is None and row_values.least(cell) is not None


def _unknown(found: ColumnLayout) -> list[int]:
    """The places of headings that nobody knows."""
    return [index for index in found.of("") if found.texts[index]]


def _discounted(found: ColumnLayout, currency: Currency) -> None:
    """A price that is another less the discount beside it in every row is the price, and the other one its list."""
    discounts = found.of_kind("discounts")
    of_price = [i for i in found.of(*PRICES) if found.meanings[i].how is not How.TOLD]
    of_lists = found.of_kind("references") if not found.of(*PRICES) else of_price
    pairs = product(of_lists, (*_unknown(found), *found.of(*PRICES))) if len(discounts) == 1 else ()
    for listed, index in pairs:
        if index != listed and _follows(found, index, _less, listed, discounts[0]):
            own, was = headings.said_besides(found.texts[index], currency), found.meanings[listed]
            column = was.column if was.column in PRICES else "price"
            found.meanings[index] = replace(own, column=column, how=How.CELLS, tax=own.tax or was.tax)
            found.meanings[listed] = Meaning(IGNORE, How.CELLS, kind="references")
            return


def _less(price: Decimal, off: Decimal) -> Decimal:
    return price * (100 - off) / 100


def _follows(found: ColumnLayout, index: int, rule: Callable[..., Decimal], *others: int) -> bool:
    """Whether a column is what a rule makes of others in every row that has all of them, and in some row is new."""
    rows = [line.cells for line in found.rows if len(line.cells) > 1][:_LOOKED_AT]
    read = ([_number(cell_at(cells, at)) for at in (index, *others)] for cells in rows)
    whole = [[each for each in row if each is not None] for row in read if None not in row]
    new = any(made != one for made, one, *_ in whole)
    return new and all(abs(rule(*factors) - made) < NEAR for made, *factors in whole)


def _number(cell: Value) -> Decimal | None:
    """The number in a cell, that of a percentage as well, which may have the minus of a discount."""
    if isinstance(cell, str) and "%" in cell:
        cell = cell.replace("%", " ").lstrip("-\N{MINUS SIGN}\N{EN DASH} ")
    return prices.number_in(cell)


def _own_headings(found: ColumnLayout, known: Known) -> None:
    """Suppliers and prices under headings of a person's own: names of firms, and sums of money where no other is."""
    suppliers = Suppliers(known, Told())
    unknown, unknown_dates = dict[int, list[Value]](), dict[int, list[Value]]()
    for index, (text, each) in enumerate(zip(found.texts, found.meanings, strict=True)):
        cells = found.below(index)
        about = heeding.kind(text)
        no_price = lexicon.headings().heeded["no_price"].intersection(lexicon.plain(text).split())
        if text and not each.column and not no_price and about in ("", "valid") and cells:
            (unknown_dates if about else unknown)[index] = cells
    for index, cells in unknown_dates.items():
        if all(row_values.day(cell, day_first=None)[0] is not None for cell in cells):
            found.meanings[index] = Meaning("valid_until", How.CELLS)
    texts = {index: list(map(row_values.text, cells)) for index, cells in unknown.items()}
    firms = [i for i, said in texts.items() if all(map(suppliers.is_firm, said)) and set(said).isdisjoint(found.texts)]
    sums = [index for index, cells in unknown.items() if _is_money(cells, bare=found.is_lettered)]
    for column, fitting in (("supplier", firms), ("price", sums)):
        if len(fitting) == 1 and not found.has(column) and not suppliers.is_firm(found.texts[fitting[0]]):
            found.meanings[fitting[0]] = Meaning(column, How.CELLS)


def _is_money(cells: Sequence[Value], *, bare: bool) -> bool:
    """Whether all cells are amounts with a currency; in a list without headings (``bare``) whether all hold an amount,
    and one of them one with a currency, or all of them decimals.
    """
    if bare:
        cells = [cell for cell in cells if cell != headings.NOT_ON_OFFER and not row_values.is_sold((cell,))]
        marked = not all(map(_is_in_brackets, cells)) and any(
            isinstance(cell, str) and prices.in_text(cell) for cell in cells
        )
        return all(_holds_amount(cell) or _is_asked(cell) for cell in cells) and (
            marked or all(map(prices.is_sum, cells))
        )
    return all(isinstance(read := prices.price(c), prices.AsWritten) and bool(read.currency) for c in cells)


def _is_asked(cell: Value) -> bool:
    """Whether a cell is a price that a person must read: "25 ono"."""
    read = prices.price(cell)
    return isinstance(read, prices.NoPrice) and read.asked and any(map(str.isdigit, read.reason + str(cell)))


def settle(sheet: ColumnLayout, told: Told) -> None:
    """Columns for the condition, the stock and the side under headings that say none of it."""
    _drop_what_holds_nothing(sheet)
    if told.condition is None or sheet.is_lettered:
        _find(sheet, "condition", lambda text: row_values.condition(text, strong_only=True)[0] is not None)
    _find(sheet, "stock", row_values.is_of_stock)
    _find(sheet, "lead_days", lambda text: row_values.days(text) is not None and not text.isdecimal(), _is_of_wait)
    _find(sheet, "side", lambda text: not _is_no_side(text))
    if sheet.is_lettered and sheet.prices:
        behind = (index for index in _unknown(sheet) if index > sheet.prices[-1])
        remarks = [
            i for i in behind if all(_is_in_brackets(cell) or not _holds_amount(cell) for cell in sheet.below(i))
        ]
        for index in remarks:
            sheet.meanings[index] = Meaning("note", How.CELLS)
        sheet.at["note"] = [*sheet.at.get("note", ()), *remarks]


def _drop_what_holds_nothing(sheet: ColumnLayout) -> None:
    """A column called "type" or "grade" without a single condition in it is not the one for the condition."""
    index = sheet.one("condition")
    if index is None or lexicon.plain(sheet.texts[index]) not in _MAY_BE_NONE:
        return
    cells = [row_values.text_at(line.cells, index) for line in sheet.rows[:_LOOKED_AT]]
    if any(cells) and not any(row_values.condition(cell)[0] for cell in cells if cell):
        sheet.at.pop("condition")
        sheet.left_out[index] = "no cell in it is a condition"


def _is_no_side(cell: Value) -> bool:
    """Whether a cell says no side, as under "position" for the number of a line."""
    return not isinstance(cell, str) or lexicon.headings().sides.get(lexicon.plain(cell)) not in SIDED


def _is_no_firm(cell: Value) -> bool:
    """Whether a cell is a number, pieces, a measure, or names a year, as under "from" for what it was taken off."""
    of_pieces = isinstance(cell, str) and (row_values.count(cell) is not None or pieces.MEASURE.search(f"per {cell}"))
    return prices.is_amount(cell) or bool(of_pieces) or (isinstance(cell, str) and _YEAR.search(cell) is not None)


def _is_code(cell: Value) -> bool:
    """Whether a cell is a number with a stroke in it, and no price: "771-20"."""
    return isinstance(cell, str) and re.fullmatch(r"\d{3,}-\d{2,}", cell) is not None


def _is_of_wait(heading: str) -> bool:
    """Whether what stands below a heading may be how long something takes: not until when it is paid or taken back."""
    known, words = lexicon.headings(), set(lexicon.plain(heading).split())
    return words.isdisjoint(known.heeded["no_wait"] | known.heeded["back"]) and not heeding.kind(heading)


def _find(
    sheet: ColumnLayout, column: str, fits: Callable[[str], bool], of_heading: Callable[[str], bool] = bool
) -> None:
    """Where no heading says condition, or stock: the one column with a heading of its own of which every cell fits."""
    if sheet.one(column) is not None:
        return
    priced = sheet.prices or range(1, len(sheet.texts))
    rows = [line.cells for line in sheet.rows[:_LOOKED_AT] if any(cell_at(line.cells, i) is not None for i in priced)]
    found = []
    for index in _unknown(sheet):
        cells = {row_values.text_at(row, index) for row in rows} - {""}
        if index not in sheet.left_out and cells and all(map(fits, cells)) and of_heading(sheet.texts[index]):
            found.append(index)
    if len(found) == 1:
        sheet.meanings[found[0]] = Meaning(column, How.CELLS)
        sheet.at[column] = found


def find_parts(sheet: ColumnLayout, parts: Parts) -> None:
    """Where no heading says part: the one column of which half the cells or more name parts of the job."""
    if sheet.one("part") is not None:
        return
    by_cells = (index for index, each in enumerate(sheet.meanings) if each.how is How.CELLS)
    found = []
    for index in sorted({*_unknown(sheet), *sheet.of("pack"), *by_cells}):  # "Unit" may be that of a car
        cells = sheet.below(index)
        is_named = parts.may_be_named_in if sheet.is_lettered else parts.is_named_in
        named = [cell for cell in cells if isinstance(cell, str) and is_named(cell)]
        if named and (2 * len(named) >= len(cells) or (sheet.is_lettered and index == 0 and sheet.prices)):
            found.append(index)
    if not found and sheet.texts[:1] == [""] and likely.like_names(sheet.below(0)):
        found = [0]  # names below no heading, before the prices
    if len(found) == 1:
        sheet.at = {column: places for column, places in sheet.at.items() if found[0] not in places}
        sheet.meanings[found[0]] = Meaning("part", How.CELLS)
        sheet.at["part"] = found


def may_count_what_is_left(sheet: ColumnLayout) -> bool:
    """Whether quantities, some of more than one, stand in what is no order and has neither totals nor a stock."""
    quantities = sheet.of_kind("quantities")
    if len(quantities) != 1 or sheet.of_kind("totals") or sheet.at.keys() & {"stock", "pack"}:
        return False
    index = quantities[0]
    ordered = (
        lexicon.headings().suppliers["of_orders"].intersection(lexicon.plain(sheet.texts[index]).split())
        or sheet.is_of_order
    )
    counts = map(row_values.count, sheet.below(index))
    return any((count or 0) > 1 for count in counts) and not ordered


def take_for_stock_if_used(sheet: ColumnLayout, rows: Sequence[TakenRow]) -> None:
    """The quantities in a list of nothing but used parts are what is to be had."""
    if rows and all(row.condition == "salvage" for row in rows):
        sheet.at["stock"] = sheet.of_kind("quantities")
        sheet.meanings[sheet.at["stock"][0]] = Meaning("stock", How.CELLS)
