"""Figures beside the prices that are left out: whether they follow from the prices, or are none of their business."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import islice, product

from optimiser.model.imports import How, Told
from optimiser.quote_import import heeding, lexicon, numbers, prices, row_values, taxes
from optimiser.quote_import.columns import ColumnLayout
from optimiser.quote_import.headings import PRICES, Meaning
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.prices import AsWritten
from optimiser.quote_import.rows import Taking
from optimiser.sheet_files.grid import SheetLine, Value, cell_at, words

_HALF = Decimal("0.5")
_LEAST_CODE = 100_000
"""Whole numbers from here on are codes, unless a currency stands beside them."""
NEAR = Decimal("0.011")
"""By how much sums may be off: each of two amounts rounded to a hundredth."""


@dataclass
class BesidePrices:
    """One sheet; of each line that became a quote, ``packs`` are the pieces in its pack, ``gross`` its price, and
    ``deposits`` what comes on top.
    """

    taking: Taking
    packs: Mapping[int, int]
    gross: Mapping[int, Decimal]
    deposits: Mapping[int, Decimal]

    def _amount(self, cell: Value) -> Decimal | None:
        return prices.number_in(cell, self.taking.money.decimal)

    def _under(self, line: SheetLine, places: Sequence[int]) -> list[Decimal]:
        """The amounts of a line in these columns."""
        layout, decimal = self.taking.layout, self.taking.money.decimal
        read = (layout.amount(line.cells, index, decimal) for index in places)
        return [each for each in read if each is not None]

    def price(self, line: SheetLine) -> Decimal | None:
        """What stands in the one column of prices, for one piece; None where there are several."""
        places = self.taking.layout.prices
        return next(iter(self._under(line, places)), None) if len(places) == 1 else None

    def _prices(self, line: SheetLine) -> list[Decimal]:
        """What stands in all columns of prices: with the tax and without it, of one piece and of more."""
        return self._under(line, self.taking.layout.of(*PRICES))

    def _of_kind(self, line: SheetLine, kind: str) -> list[Decimal]:
        return self._under(line, self.taking.layout.of_kind(kind))

    def quantity(self, line: SheetLine) -> Decimal:
        """How many pieces a line is about."""
        return self.taking.layout.ordered(line.cells)

    def is_more(self, line: SheetLine, cell: Value) -> bool:
        """A list price or an earlier price is no less than the price."""
        beside, other = self._prices(line), self._amount(cell)
        return not beside or (other is not None and other >= min(beside))

    def is_one(self, line: SheetLine, cell: Value) -> bool:
        """A quantity of one, or one that the total of the line proves to be times the price.

        In an order a quantity beside the price of one piece says nothing of it.
        """
        count, price = counted(cell), self.price(line)
        layout = self.taking.layout
        prices_are = layout.meanings[layout.prices[0]] if layout.prices else Meaning("")
        of_one = prices_are.of_line or (layout.is_of_order and prices_are.column in ("price_each", "unit_price"))
        if of_one or count in (Decimal(0), Decimal(1)):
            return True
        if price is None or count is None:
            return count is None and not any(map(str.isdigit, row_values.text(cell)))
        sums = [each * count for each in (price, self.gross.get(line.number, price))]
        return any(abs(total - each) < NEAR for total in self._of_kind(line, "totals") for each in sums)

    def is_total(self, line: SheetLine, cell: Value) -> bool:
        """The price times the quantity, with the deposits or without."""
        price, total, deposit = self.price(line), self._amount(cell), self.deposits.get(line.number, Decimal(0))
        if total is None or price is None:
            return total is None
        ways = product((price, self.gross.get(line.number, price)), (Decimal(0), deposit))
        return any(abs(total - (each + more) * self.quantity(line)) < NEAR for each, more in ways)

    def is_to_pay(self, pairs: Sequence[tuple[SheetLine, Value]]) -> bool:
        """The prices with the tax that was added to them, of several lines."""
        known = [(self.price(line), self.gross.get(line.number), cell) for line, cell in pairs]
        paid = [(gross, self._amount(cell)) for net, gross, cell in known if net != gross]
        added = all(gross is not None and said is not None and abs(gross - said) < NEAR for gross, said in paid)
        return len(paid) == len(pairs) > 1 and added

    def is_saved(self, line: SheetLine, cell: Value) -> bool:
        """What a list price or an earlier price beside it is above the price, as an amount or in percent."""
        saved, percent = self._amount(cell), numbers.percent(row_values.text(cell)) if is_share(cell) else None
        pairs = list(product(self._of_kind(line, "references"), self._prices(line)))
        if percent is not None:  # in whole percent, as shops write it
            return any(other and abs(100 * (other - price) / other - percent) <= _HALF for other, price in pairs)
        return saved is None or any(abs(other - price - saved) < NEAR for other, price in pairs)

    def is_taken_off(self, line: SheetLine, cell: Value) -> bool:
        """A discount that the price has off already, as a list price beside it proves."""
        percent = prices.number_in(str(row_values.text(cell)).replace("%", ""))
        if percent in (None, Decimal(0)):
            return True
        reduced = [each * (100 - percent) / 100 for each in self._of_kind(line, "references")]
        return any(abs(each - price) < NEAR for each in reduced for price in self._prices(line))

    @staticmethod
    def is_no_money(_: SheetLine, cell: Value) -> bool:
        """No price, and no number that could be one: codes and texts."""
        read = prices.price(cell)
        if not isinstance(read, AsWritten):
            return not (isinstance(cell, str) and heeding.kind(cell))
        value = read.amount.value
        return not read.currency and value is not None and value >= _LEAST_CODE and prices.places_of(value) == 0

    def foot(self, of_sums: Set[int]) -> FootSums:
        """The sums of the prices times the quantities, over all lines that are no sums themselves (``of_sums``)."""
        layout, decimal = self.taking.layout, self.taking.money.decimal
        runs, deposits = [[Decimal(0), Decimal(0)]], Decimal(0)
        taxed: list[Decimal] = []
        said = set[str]()
        for line in layout.rows:
            if line.number in of_sums:
                found = [each for cell in line.cells if (each := prices.number_in(cell, decimal)) is not None]
                names = [word for cell in line.cells if isinstance(cell, str) for word in plain(cell).split()]
                taxed += found if taxes.names_tax(names) else []
                said.add(taxes.in_line(" ".join(names)))
                runs.append([Decimal(0), Decimal(0)])
                continue
            price, count = self.price(line) or Decimal(0), self.quantity(line)
            deposits += self.deposits.get(line.number, Decimal(0)) * count
            runs[-1][0] += price * count
            runs[-1][1] += self.gross.get(line.number, price) * count
        mark = self.taking.money.of_heading() or self.taking.money.tax
        net, gross = (sum((run[kind] for run in runs), Decimal(0)) for kind in (0, 1))
        inside = mark == "with" or (not mark and "without" not in said and bool(said - {""}))
        return FootSums(
            net,
            gross,
            taxed,
            inside,
            deposits,
            sections=[*self.taking.proven_sums, *(each for run in runs for each in run if each)],
        )

    def cartons(self) -> Iterator[str]:
        """The headings of prices "per carton" of which nothing says how many it holds."""
        layout, holders = self.taking.layout, lexicon.headings().prices["pack"]
        for index in layout.prices if layout.one("pack") is None else ():
            heading, meaning = layout.texts[index], layout.meanings[index]
            said = meaning.pack or meaning.variant is not None or self.taking.money.is_pack_told(heading)
            if not said and set(self.packs.values()) == {1} and not holders.isdisjoint(plain(heading).split()):
                yield heading

    def is_tax_in_price(self, meaning: Meaning) -> bool:
        """The tax, beside prices whose heading says that it is in them."""
        layout = self.taking.layout
        of_tax = meaning.column in ("tax", "tax_rate", "tax_amount", "tax_said")
        return of_tax and bool(layout.prices) and layout.meanings[layout.prices[0]].tax == "with"

    def is_other_price(self, index: int, pairs: Sequence[tuple[SheetLine, Value]]) -> bool:
        """A price that was not chosen, and whose heading says why: it has no tax in it, or is that of one piece."""
        layout = self.taking.layout
        meaning = layout.meanings[index] if index < len(layout.meanings) else None
        if meaning is None or not layout.prices:
            return False
        chosen = layout.meanings[layout.prices[0]]
        if meaning.column not in PRICES:
            return False
        if chosen.how is How.TOLD or meaning.tax != chosen.tax:
            return chosen.how is How.TOLD or bool(chosen.tax)
        return all(self._is_of_pack(line, cell) for line, cell in pairs)

    def _is_of_pack(self, line: SheetLine, cell: Value) -> bool:
        """The same price, or that of one piece beside that of the pack."""
        price, other = self.price(line), self._amount(cell)
        pack = self.packs.get(line.number, 1)
        pairs = ((1, 1), (pack, 1), (1, pack))
        return price is not None and other is not None and any(abs(other * m - price * n) < NEAR for n, m in pairs)


def counted(cell: Value) -> Decimal | None:
    """How many a cell says, or from how many on; None where it says neither."""
    least = row_values.least(cell)
    return prices.number_in(cell) if least is None else Decimal(least)


def is_share(cell: Value) -> bool:
    """Whether a cell is empty or a percentage."""
    return cell is None or numbers.PERCENT.fullmatch(row_values.text(cell)) is not None


def is_text(lines: Sequence[SheetLine], index: int) -> bool:
    """Whether a column holds words and no amounts."""
    cells = [cell for line in islice(lines, 500) if (cell := cell_at(line.cells, index)) is not None]
    return bool(cells) and not any(prices.is_amount(cell) for cell in cells)


def is_code(text: str) -> bool:
    """Whether a text is one word of letters and figures."""
    return " " not in text and any(sign.isdigit() for sign in text) and any(sign.isalpha() for sign in text)


def has_amount(text: str) -> bool:
    """Whether a text that is no amount holds one all the same, such as one below 0."""
    return any(sign in "123456789" for sign in text) and prices.number_in(text) is None


_LEAST_RATE, _MOST_RATE = Decimal(3), Decimal(30)
"""Between which an amount may be the tax on a sum, in percent (common practice, no published source)."""


@dataclass
class FootSums:
    """``net``: the prices as written times the quantities; ``gross``: as the job takes them; both summed up.

    ``taxes`` are the amounts in such lines that name the tax, and with the tax in the prices such an amount and the sum
    without it are no news. A charge, once it is asked about, is part of the sums below it.
    """

    net: Decimal
    gross: Decimal
    taxes: Sequence[Decimal] = ()
    tax_inside: bool = False
    deposits: Decimal = Decimal(0)
    sections: Sequence[Decimal] = ()
    """The sums of the rows between two such lines, as written and as the job takes them."""
    charges: list[Decimal] = field(default_factory=list)

    def explain(self, amount: Decimal) -> bool:
        """Whether an amount is a sum of the prices, the tax on them, or such a sum with the charges above it."""
        charged = sum(self.charges, Decimal(0))
        more = (Decimal(0), charged, self.deposits, charged + self.deposits)
        whole = [sum(each) for each in product((self.net, self.gross), more)]
        known = (*whole, self.gross - self.net, *self.sections)
        return any(abs(amount - each) < NEAR for each in known) or (self.tax_inside and self._is_share(amount))

    def _is_share(self, amount: Decimal) -> bool:
        """Whether it is the tax in all prices, or the sum of them without it."""
        wholes = (self.gross, self.gross + sum(self.charges, Decimal(0)))
        inside = [(tax, whole - tax) for tax in self.taxes for whole in wholes if rate_of(tax, whole - tax)]
        return any(abs(amount - each) < NEAR for pair in inside for each in pair)


@dataclass(frozen=True)
class ProvenTax:
    """What the sums at the foot prove of the tax in the prices, the rate in percent, and the amounts that do."""

    mark: taxes.Mark = ""
    rate: Decimal | None = None
    amounts: tuple[Decimal, ...] = ()


def proven_tax(sheet: ColumnLayout, told: Told, decimal: str) -> ProvenTax:
    """That the tax comes on top, where prices and charges, the tax on them, and both together stand there as sums; that
    it is in the prices, where they come to a total of which the tax is a share.
    """
    if len(sheet.prices) != 1 or told.ex_tax or sheet.meanings[sheet.prices[0]].tax == "with":
        return ProvenTax()
    foot: list[tuple[str, Decimal]] = []
    net = Decimal(0)
    for line in sheet.rows:
        label = " ".join(words(line.cells))
        if _is_of_sums(label):
            if heeding.kind(label) in ("discount", "deposit"):
                return ProvenTax()  # it may have changed what the tax is on
            if taxes.in_line(label) and not set(told.words.values()).isdisjoint(words(line.cells)):
                return ProvenTax()  # a person has said what it means
            foot += [(label, each) for cell in line.cells for each in _amounts(cell, decimal)]
        else:
            price = sheet.amount(line.cells, sheet.prices[0], decimal) or Decimal(0)
            net += price * sheet.ordered(line.cells)
    charges = sum((each for label, each in foot if heeding.kind(label) == "postage"), Decimal(0))
    return _proven(foot, (net, net + charges))


def _amounts(cell: Value, decimal: str) -> list[Decimal]:
    """The amount that a cell is, or those within a text: "Total including £12.40 VAT"."""
    own = prices.number_in(cell, decimal)
    within = prices.in_text(cell) if own is None and isinstance(cell, str) else []
    return [each for each in (own, *(each.under(decimal) for each in within)) if each]


def _proven(foot: Sequence[tuple[str, Decimal]], bases: Sequence[Decimal]) -> ProvenTax:
    known = [each for _, each in foot]
    net_alone = lexicon.headings().tax["without_alone"]
    gross = [each for label, each in foot if net_alone.isdisjoint(plain(label).split())]
    taxed = [pair for pair in foot if taxes.names_tax(plain(pair[0]).split())]
    for base, (label, tax) in product(bases, taxed):
        said = {str(int(each)) for word in numbers.PERCENT.findall(label) if (each := numbers.percent(f"{word}%"))}
        on_top, inside = rate_of(tax, base), rate_of(tax, base - tax)
        if on_top and said <= {on_top} and any(abs(each - base - tax) < NEAR for each in known):
            return ProvenTax("without", Decimal(on_top), (base, tax, base + tax))
        sure = not on_top or bool(said) or taxes.in_line(label) in ("inside", "with")
        if inside and sure and said <= {inside} and any(abs(each - base) < NEAR for each in gross):
            return ProvenTax("with", None, (base, tax, base - tax))
    return ProvenTax()


def _is_of_sums(label: str) -> bool:
    known, said = lexicon.headings(), set(plain(label).split())
    return (
        bool(said & (known.rows["sums"] | known.rows["totals"] | known.tax["words"]))
        or heeding.kind(label) == "postage"
    )


def rate_of(tax: Decimal, net: Decimal) -> str:
    """The rate in whole percent that an amount of tax may be; empty where it is none."""
    percent = 100 * tax / net if net > 0 else Decimal(0)
    whole = percent.quantize(Decimal(1))
    likely = _LEAST_RATE <= whole <= _MOST_RATE and abs(whole * net / 100 - tax) < NEAR
    return str(whole) if likely else ""
