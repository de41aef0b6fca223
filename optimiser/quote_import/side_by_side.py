"""Shops side by side in one table, each with columns of its own, given rows of their own as other sheets have them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import NamedTuple, TypeAlias

from optimiser.model.imports import Known, Told
from optimiser.money import Currency
from optimiser.quote_import import lexicon, likely, prices, row_values, taxes
from optimiser.quote_import.beside_prices import NEAR
from optimiser.quote_import.headings import PRICES, Meaning, meaning, said_besides, state_of
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.naming import Suppliers
from optimiser.sheet_files.grid import MOST_LINES, Grid, SheetLine, Value, cell_at, spread

_LOOKED_AT = 40
_SUPPLIER, _PRICE, _CONDITION, _TAX = "Supplier", "Price", "Condition", "VAT status"
_TAX_IN_WORDS = {"with": "inc VAT", "without": "ex VAT"}
_STATE = re.compile(r"(.+?)\s*\(([^()]+)\)")
_LIKE_PRICES = 0.5
"""How much the cells below a shop must look like prices: half of them numbers, or a quarter sums of money."""


class _ShopBeside(NamedTuple):
    """The name above some columns, and what is said there of all prices below it: the condition, and of the tax."""

    name: str
    state: str = ""
    tax: taxes.Mark = ""


_Shops: TypeAlias = Mapping[_ShopBeside, Mapping[str, int]]
"""The columns of each shop, by what stands above them."""


@dataclass(frozen=True)
class _Table:
    """``first`` and ``last`` are the indexes of the lines of headings."""

    first: int
    last: int
    texts: Sequence[str]
    shops: _Shops

    @property
    def common(self) -> list[int]:
        """The columns that no shop has for itself."""
        own = {index for columns in self.shops.values() for index in columns.values()}
        return [index for index in range(len(self.texts)) if index not in own]


def put_below_each_other(grid: Grid, known: Known, told: Told) -> tuple[str, ...]:
    """Give every shop that has columns of its own rows of its own, in place; the names of the shops, as they stand.

    Nothing is done where a column is hidden, or where a person said what the heading of one of them means.
    """
    if told.supplier or grid.hidden_columns:
        return ()
    suppliers = Suppliers(known, told)
    said = {plain(text) for text in told.columns}
    for place in range(min(len(grid.lines), _LOOKED_AT)):
        for first in (place - 1, place):
            table = _table(grid, first, place, known.currency, suppliers) if first >= 0 else None
            if table is not None and len(grid.lines) * len(table.shops) <= MOST_LINES:
                names = tuple(dict.fromkeys(shop.name for shop in table.shops))
                if said.intersection(map(plain, names)):
                    return ()
                grid.lines = [*grid.lines[: table.first], *_rows(grid, table)]
                return names
    return ()


def parted(grid: Grid) -> list[Grid]:
    """The tables of one sheet that stand side by side under the same headings, each as a sheet of its own.

    Lines of one text, wherever they stand, are said of all of them.
    """
    for line in grid.lines[:_LOOKED_AT]:
        blocks = [] if grid.hidden_columns else _blocks([_text(cell) for cell in line.cells])
        if blocks:
            return [_of_block(grid, start, end, number) for number, (start, end) in enumerate(blocks, start=1)]
    return [grid]


def _blocks(texts: Sequence[str]) -> list[tuple[int, int]]:
    """Where each of the tables begins and ends whose headings a line holds; empty where they are those of one."""
    named = [index for index, text in enumerate(texts) if text]
    for count in range(2, len(named) // 2 + 1):
        width = len(named) // count
        starts = named[::width]
        blocks = [named[at : at + width] for at in range(0, len(named), width)]
        same = len(named) == width * count and len({tuple(plain(texts[i]) for i in block) for block in blocks}) == 1
        columns = {meaning(texts[index], Currency.of("XXX")).column for index in blocks[0]}
        if same and "part" in columns and columns & {*PRICES}:
            return list(zip(starts, [*starts[1:], len(texts)], strict=True))
    return []


def _of_block(grid: Grid, start: int, end: int, number: int) -> Grid:
    lines = []
    for line in grid.lines:
        own = line.cells[start:end]
        of_all = sum(cell is not None for cell in line.cells) == 1
        if of_all or any(cell is not None for cell in own):
            lines.append(SheetLine(line.number, line.cells if of_all else own))
    name = f"{grid.sheet}, table {number}".removeprefix(", ") if number > 1 else grid.sheet
    first = grid if number == 1 else Grid(name, spreadsheet=grid.spreadsheet, flags=grid.flags)
    return replace(first, lines=lines)


def _table(grid: Grid, first: int, last: int, currency: Currency, suppliers: Suppliers) -> _Table | None:
    """The table whose headings are these lines, if shops stand among them."""
    lower = [_text(cell) for cell in grid.lines[last].cells]
    meanings = [meaning(text, currency) for text in lower]
    if all(each.column != "part" for each in meanings):
        return None
    are_above = first < last
    named = _above(grid, first, lower, currency) if are_above else _among(lower, meanings, currency, suppliers)
    shops = _priced_alike(_with_prices(named, grid.lines[last + 1 :], currency), currency)
    if not shops or not _are_shops(list(shops), suppliers, are_above=are_above):
        return None
    table = _Table(first, last, lower, shops)
    others = (meanings[index] for index in table.common)
    return None if any(each.column in (*PRICES, "supplier") for each in others) else table


def _priced_alike(shops: _Shops, currency: Currency) -> _Shops:
    """The shops with one heading above all of their prices, where these differ in the tax alone; else none."""
    headings = {shop: next(t for t in own if meaning(t, currency).column in PRICES) for shop, own in shops.items()}
    if len(set(headings.values())) < 2:
        return shops
    said = {shop: meaning(text, currency) for shop, text in headings.items()}
    if any(each.column != "price" or each.pack or each.small or each.currency for each in said.values()):
        return {}
    return {
        shop._replace(tax=shop.tax or said[shop].tax): {
            _PRICE if text == headings[shop] else text: at for text, at in own.items()
        }
        for shop, own in shops.items()
    }


def _with_prices(shops: _Shops, lines: Sequence[SheetLine], currency: Currency) -> _Shops:
    """Those below which prices stand."""
    of_price = {
        shop: next((at for text, at in columns.items() if meaning(text, currency).column in PRICES), None)
        for shop, columns in shops.items()
    }
    return {
        shop: columns
        for shop, columns in shops.items()
        if (at := of_price[shop]) is not None and likely.like_prices(likely.below(lines, at)) >= _LIKE_PRICES
    }


def _above(grid: Grid, upper: int, lower: Sequence[str], currency: Currency) -> dict[_ShopBeside, dict[str, int]]:
    """The columns below each name in the line above the headings, which stands for those to its right as well."""
    shops: dict[_ShopBeside, dict[str, int]] = {}
    if grid.lines[upper + 1].number != grid.lines[upper].number + 1:
        return {}
    above = [_text(cell) for cell in spread(grid, grid.lines[upper])]
    name, of_all = "", set[str]()
    for index, text in enumerate(lower):
        name = above[index] if index < len(above) and above[index] else name
        said, state = meaning(text, currency), state_of(text, currency)
        if said.column == "part":
            of_all.add(name)  # a letterhead
        elif name and text and state:
            tax = said_besides(text, currency).tax
            shops.setdefault(_ShopBeside(name, state, tax), {}).setdefault(_PRICE, index)
        elif name and text and said.column not in ("", "ref"):
            shops.setdefault(_ShopBeside(name), {}).setdefault(text, index)
    return {
        shop: shops.get(_ShopBeside(shop.name), {}) | columns
        for shop, columns in shops.items()
        if shop.name not in of_all
    }


def _among(
    texts: Sequence[str], meanings: Sequence[Meaning], currency: Currency, suppliers: Suppliers
) -> dict[_ShopBeside, dict[str, int]]:
    """The columns headed by the name of a shop, with the word for a price or a time behind it or without."""
    shops: dict[_ShopBeside, dict[str, int]] = {}
    for index, (text, each) in enumerate(zip(texts, meanings, strict=True)):
        if not text or each.column:
            continue
        heading, state = _without_state(text)
        name, what = _parted(heading, currency)
        if suppliers.is_listed(name) or suppliers.may_be_firm(name):
            shops.setdefault(_ShopBeside(name, state), {}).setdefault(what, index)
    return shops


def _without_state(heading: str) -> tuple[str, str]:
    """A heading without the condition in brackets behind it, and that: "Ashdown Motors (recon)"."""
    found = _STATE.fullmatch(heading)
    named = None if found is None else row_values.condition(found[2], strong_only=True)[0]
    return (found[1], named) if found is not None and named else (heading, "")


def _parted(heading: str, currency: Currency) -> tuple[str, str]:
    """A name and what is said of it: "Ashdown price inc VAT"."""
    words = heading.split()
    for count in range(len(words) - 1, 0, -1):
        if meaning(" ".join(words[-count:]), currency).column not in ("", "supplier", "part"):
            return " ".join(words[:-count]), " ".join(words[-count:])
    return heading, _PRICE


def _are_shops(shops: Sequence[_ShopBeside], suppliers: Suppliers, *, are_above: bool) -> bool:
    """Whether they are on the job's list, or two names or more, of which one among the headings has a word for a firm.

    Names in a line of their own are asked about.
    """
    names = list(dict.fromkeys(shop.name for shop in shops))
    if all(suppliers.is_listed(name) for name in names):
        return bool(names)
    firms = are_above or any(map(suppliers.is_firm, names))
    return len(names) > 1 and firms and all(suppliers.is_listed(n) or suppliers.may_be_firm(n) for n in names)


def _rows(grid: Grid, table: _Table) -> list[SheetLine]:
    """The headings, and every line as often as shops have something in it."""
    whats = list(dict.fromkeys(what for columns in table.shops.values() for what in columns))
    headings: list[Value] = [table.texts[index] or None for index in table.common]
    besides = [_CONDITION][: any(shop.state for shop in table.shops)] + [_TAX][: any(shop.tax for shop in table.shops)]
    rows = [SheetLine(grid.lines[table.last].number, (*headings, _SUPPLIER, *whats, *besides))]
    above: list[SheetLine] = []
    for line in grid.lines[table.last + 1 :]:
        if _is_sum_of(line, above, table):
            continue
        above.append(line)
        common = [cell_at(line.cells, index) for index in table.common]
        of_shops = []
        for shop, columns in table.shops.items():
            own = [cell_at(line.cells, columns[what]) if what in columns else None for what in whats]
            said = {_CONDITION: shop.state or None, _TAX: _TAX_IN_WORDS.get(shop.tax)}
            if any(cell is not None for cell in own):
                of_shops.append(SheetLine(line.number, (*common, shop.name, *own, *map(said.get, besides))))
        rows += of_shops or [SheetLine(line.number, tuple(common))]
    return rows


def _is_sum_of(line: SheetLine, above: Sequence[SheetLine], table: _Table) -> bool:
    """Whether a line of totals has below every shop the sum of what stands there, or nothing."""
    words = {word for cell in line.cells if isinstance(cell, str) for word in plain(cell).split()}
    if words.isdisjoint(lexicon.headings().rows["sums"]):
        return False
    for index in (index for columns in table.shops.values() for index in columns.values()):
        total = prices.number_in(cell_at(line.cells, index))
        column = [prices.number_in(cell_at(each.cells, index)) or Decimal(0) for each in above]
        if total is not None and abs(total - sum(column)) >= NEAR:
            return False
    return True


def _text(cell: Value) -> str:
    return cell if isinstance(cell, str) else ""
