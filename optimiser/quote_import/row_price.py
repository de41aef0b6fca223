"""The price of a row: what its cells and the sheet around it say, worked out to minor units with the tax in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cached_property

from optimiser.job_folder.problems import Place, shown
from optimiser.model.imports import How, Told, Why, place_of
from optimiser.money import Currency
from optimiser.quote_import import lexicon, numbers, prices, row_values, taxes
from optimiser.quote_import.columns import ColumnLayout, as_mapped
from optimiser.quote_import.headings import NOT_ON_OFFER
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.prices import AsWritten, NoPrice
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import Cells, Value, cell_at
from optimiser.text import typed

_LIKELY_RATE = Decimal(20)
"""Percent of tax in the example that a mend gives."""
SEVERAL = "a price of several together, and nothing says how many they are"
_NO_DEPOSIT = frozenset({"", "no", "none", "n a", "na", "nil"})


class SetAsideError(Exception):
    """The row cannot be taken: why, and the cell for which it cannot."""

    def __init__(self, kind: Why, reason: str, about: str = "") -> None:
        self.kind, self.reason, self.about = kind, reason, about
        super().__init__(reason)


class AskedError(SetAsideError):
    """The row cannot be taken, and what is to be settled for it has been asked already."""


@dataclass(frozen=True)
class Priced:
    """A price in minor units for a pack of so many pieces; ``working`` says how it came about, if it took working."""

    minor: int
    pack: int
    working: str


@dataclass
class SheetMoney:
    """What holds for the money of a whole sheet, and the doubts about it, each told once.

    ``decimal`` is the sign before the decimals, "" where nothing tells; ``rate`` the percent to add, if one is known.
    """

    layout: ColumnLayout
    currency: Currency
    told: Told
    place: Place
    decimal: str
    tax: taxes.Mark = ""
    rate: Decimal | None = None
    sections: Mapping[int, taxes.Mark] = field(default_factory=dict)
    """What lines say of the tax in the prices below them, where they say different things."""
    rounded: list[int] = field(default_factory=list)
    unsaid: bool = False
    rated: list[int] = field(default_factory=list)
    """Rows to which the rate for the whole sheet was added."""
    added: Counter[str] = field(default_factory=Counter)
    """How many prices each rate of tax was added to."""
    off: Decimal = Decimal(0)
    """The percent that come off all prices, as a person said of a line."""
    index: int | None = None
    """The column of the price that is being read."""
    remark: taxes.Mark = ""
    """What the remarks of the row say of the tax."""
    _told_once: set[str] = field(default_factory=set)

    def with_tax(self, amount: Decimal) -> Decimal:
        """What a charge beside prices without the tax comes to with theirs, in whole coins; else as it is."""
        if self.tax != "without" or not self.rate:
            return amount
        minor = prices.minor_within(taxes.added(amount, self.rate), self.currency)
        return amount if minor is None else Decimal(minor).scaleb(-self.currency.places)

    def priced(self, cells: Cells, row: int, index: int | None, pieces: int = 0, tax: taxes.Mark = "") -> Priced:
        """The row's price in a column; ``pieces``: those that its name speaks of.

        Raises ``SetAsideError``; what is a doubt is noted as well.
        """
        if index is None:
            raise AskedError(Why.PRICE, "the sheet has no column for the price")
        self.index, self.remark = index, tax
        written = prices.price(cell_at(cells, index))
        if isinstance(written, NoPrice):
            kind = Why.PRICE if written.asked else Why.NO_PRICE
            raise SetAsideError(kind, written.reason, row_values.text_at(cells, index))
        self._same_currency(written, cells, row)
        amount = self._amount(written, cell_at(cells, index), row, "price")
        if not amount and written.per != "free":
            raise SetAsideError(Why.PRICE, "a price of 0, which may mean that there is none")
        pack, per = self._pack(written, cells, pieces)
        if pack == 1 and written.per == "pack" and not self._is_one(cells):
            raise SetAsideError(Why.PRICE, SEVERAL, row_values.text_at(cells, index))
        if pieces and self._is_holder(self._column("pack", cells)):
            written = replace(written, per=written.per or "pack")
        count = self.layout.ordered(cells) if self.layout.meanings[index].of_line else Decimal(1)
        net, working = self._for_pack(amount / count, pack, per, written, row)
        if self.off:
            working += f"{'; ' if working else ''}{net} - {self.off} %"
            net = net * (100 - self.off) / 100
        of_one = count == 1 and net == amount
        gross, added = self._with_tax(net, written, cells, row, pieces=1 if of_one else max(pack, int(count)))
        of_line = f"; {amount} for {count}" if count != 1 else ""
        return self._rounded(gross, pack, of_line + ("; " if working and of_line else "") + working + added, row)

    def deposit(self, cells: Cells, row: int) -> int:
        """The deposit on one piece, as it stands: tax is added to it only where its heading says that it is without."""
        index = self.layout.one("deposit")
        written = prices.price(None if index is None else cell_at(cells, index))
        if isinstance(written, NoPrice):
            said = "" if index is None else row_values.text_at(cells, index)
            if written.asked or plain(said) not in _NO_DEPOSIT:
                raise SetAsideError(Why.FIELD, f"the deposit: {written.reason}", said)
            return 0
        if written.pack is not None or written.per == "pack":
            raise SetAsideError(Why.FIELD, "a deposit that is not for one piece")
        self._same_currency(written, cells, row)
        amount = self._amount(written, cell_at(cells, index or 0), row, "deposit")
        if self.layout.meanings[index or 0].tax == "without" and written.tax != "with":
            if self.rate is None:
                self._no_rate(row, "")
                raise AskedError(Why.TAX, "a deposit without the tax, and no rate to add")
            amount = taxes.added(amount, self.rate)
        return self._rounded(amount, 1, "", row).minor

    def without_deposit(self, price: Priced, deposit: int, *, inside: bool = False) -> Priced:
        """The price without the deposit on one piece, where it is ``inside`` or a heading says that it is in it."""
        places = (self.index, self.layout.one("deposit"))
        inside = inside or any(i is not None and self.layout.meanings[i].deposit_inside for i in places)
        if not deposit or not inside:
            return price
        if price.pack > 1 or price.working or deposit >= price.minor:
            raise SetAsideError(Why.PRICE, "a price from which its deposit cannot be taken for certain")
        minor, text = price.minor - deposit, self.currency.text
        return replace(price, minor=minor, working=f"{text(price.minor)} - {text(deposit)} deposit = {text(minor)}")

    def _amount(self, written: AsWritten, value: Value, row: int, column: str) -> Decimal:
        amount = written.amount.under(self.decimal)
        if amount is None:
            two = _two_ways(written, value)
            if self._once("decimal"):
                said = shown(row_values.text(value))
                expected = f"an amount with one reading; this {two[len(said) + 1 :]}, and nothing in the sheet tells"
                signs = ["," if written.amount.sign == "." else ".", written.amount.sign]  # thousands are likelier
                ways = " or ".join(f'--decimal "{sign}"' for sign in signs)
                mend = f"say which sign stands before the decimals: {ways}"
                self.place.at(self.where(row)).complain(column, found=said, expected=expected, mend=mend)
            raise AskedError(Why.PRICE, two)
        if written.small or self._in_small_coin(column):
            amount = amount.scaleb(-self.currency.places)
        if written.amount.value is None and prices.places_of(amount) > self.currency.places:
            # three places in a currency of two: the sheet's sign says one thing, the currency another
            raise SetAsideError(Why.PRICE, f"{_two_ways(written, value)}: neither fits the sheet and the currency")
        return amount

    def _in_small_coin(self, column: str) -> bool:
        index = self.index if column == "price" else self.layout.one(column)
        return index is not None and self.layout.meanings[index].small

    def _same_currency(self, written: AsWritten, cells: Cells, row: int) -> None:
        index = self.layout.one("currency")
        marks = [written.currency, row_values.text_at(cells, index) if index is not None else ""]
        for mark in marks:
            if mark and not currencies.fits(mark, self.currency):
                text = row_values.text(cell_at(cells, self.index or 0)) if mark == written.currency else mark
                self._foreign(mark, self.where(row), text)
                raise AskedError(Why.PRICE, f"the currency {shown(mark)}, which is not the job's")
        said = "" if self.index is None else self.layout.meanings[self.index].currency
        if said and not any(marks) and not currencies.fits(said, self.currency):
            if self._once("currency of the heading"):
                self._foreign(said, self.layout.place)
            raise AskedError(Why.PRICE, f"the currency {shown(said)}, which is not the job's")

    def _foreign(self, mark: str, where: str, cell: str = "") -> None:
        code = self.currency.code
        expected = "no currency, as the job names none" if code == "XXX" else f"{code}, the job's currency"
        mend = (
            "write currency under [job] in job.toml"
            if code == "XXX"
            else "ask for the price in it, or take the row out"
        )
        mend += f": {typed('word', cell, NOT_ON_OFFER)}" if cell and code != "XXX" else ""
        self.place.at(where).complain("currency", found=shown(mark), expected=expected, mend=mend)

    def _pack(self, written: AsWritten, cells: Cells, pieces: int) -> tuple[int, int]:
        """The pieces that the price buys: as told, else as its cell, column, heading or the name says; and for how
        many of them the amount is, where a column or the heading says that apart (0: neither does).
        """
        value = self._column("pack", cells)
        heading = self.layout.meanings[self.index or 0]
        told = self._told_pack(cells)
        if told:
            return told, 0
        pack = 1 if value is None else row_values.least(value)
        if pieces and self._is_holder(value):
            pack = pieces
        if pack is None or not 1 <= pack <= row_values.MOST:
            raise SetAsideError(Why.FIELD, f"a pack of {shown(row_values.text(value))}", row_values.text(value))
        variant = heading.variant.pieces if heading.variant else 0
        per = heading.pack or row_values.count(self._column("price_for", cells)) or 0
        of_pack = per if value is None and not heading.sold_singly else pack
        said = [each for each in (written.pack, pieces, variant if variant > 1 else 0, of_pack) if each]
        if len(set(said)) > 1:
            first, second = list(dict.fromkeys(said))[:2]
            raise SetAsideError(Why.PRICE, f"the price is for {first}, the pack holds {second}", row_values.text(value))
        return (said[0] if said else 1), per

    def _is_one(self, cells: Cells) -> bool:
        """Whether one piece is what is sold, by a column or a person's word, or as its name says: a set, a kit."""
        price = row_values.text_at(cells, self.index or 0)
        names = [row_values.text_at(cells, i) for i in self.layout.at.get("part", ())]
        said = set(plain(price).split()) & lexicon.headings().prices["pack"]
        named = any(said.intersection(plain(name).split()) for name in names) or self._column("pack", cells) is not None
        return (named and not prices.is_lump(price)) or bool(self._told_pack(cells))

    def _is_holder(self, value: Value) -> bool:
        """Whether a cell says that something is sold as one, or is a person's number for such a word: the name of a row
        that says how many it is counts before either.
        """
        return row_values.is_holder(value) or value in self.told.words.values()

    def _told_pack(self, cells: Cells) -> int:
        """The pieces that a person said of the heading or of the name in the row."""
        if not self.told.packs:
            return 0
        names = [
            self.layout.texts[self.index or 0],
            *(row_values.text_at(cells, i) for i in self.layout.at.get("part", ())),
        ]
        told = {plain(name): count for name, count in self.told.packs.items()}
        found = next((told[plain(name)] for name in names if plain(name) in told), "")
        return int(found) if found.isdecimal() and 0 < int(found[:7]) <= row_values.MOST else 0

    def is_pack_told(self, name: str) -> bool:
        """Whether a person said how many pieces a price of this name, or under this heading, is for."""
        return plain(name) in {plain(each) for each in self.told.packs}

    def _for_pack(self, amount: Decimal, pack: int, per: int, written: AsWritten, row: int) -> tuple[Decimal, str]:
        """The amount for the whole pack, and how it came about."""
        if per not in (0, pack):
            return amount * pack / per, f"{amount} for {per}, {pack} in the pack"
        index, meaning = self.index, self.layout.meanings[self.index or 0]
        variant = meaning.variant
        kind = "price_each" if variant is not None and variant.pieces and not variant.whole else meaning.column
        if pack == 1 or written.per in ("pack", "free"):
            return amount, ""
        if kind == "unit_price" and not written.per and not meaning.pack:
            heading = self.layout.texts[index or 0]
            text = shown(heading)
            if self._once("unit price"):
                self.place.at(self.where(row)).complain(
                    "price",
                    found=f"{text} in a row with a pack of {pack}",
                    expected="the price of a pack, or of a piece",
                    mend=f"say which: {as_mapped(heading, 'price')} or {as_mapped(heading, 'price_each')}",
                )
            raise AskedError(Why.PRICE, f"{text} may be for one piece or for the pack of {pack}")
        if kind == "price_each" or written.per == "each":
            return amount * pack, f"{amount} each, {pack} in the pack"
        return amount, ""

    def _with_tax(self, net: Decimal, written: AsWritten, cells: Cells, row: int, pieces: int) -> tuple[Decimal, str]:
        """The price with the tax in it, exact, and what was added; ``pieces``: how often the price written is in it."""
        mark = written.tax or self._said_in_row(cells) or self.remark or self.of_heading() or self._of_section(row)
        amount = self._column("tax_amount", cells)
        in_words = numbers.PERCENT.findall(row_values.text(self._column("tax_said", cells)))
        rate = f"{in_words[0]}%" if in_words else self._column("tax_rate", cells)
        if mark == "with":
            return net, ""
        if self.layout.one("tax") is not None:
            raise AskedError(Why.TAX, "a column for the tax that may be a rate or an amount")
        if not mark and not self.told.ex_tax and not self.has_tax_column():
            self.unsaid = True
            return net, ""
        if amount is not None:
            if pieces > 1:
                raise SetAsideError(Why.TAX, f"an amount of tax that may be for one piece or for the pack of {pieces}")
            return self._with_amount(net, amount, cells, row)
        if not mark and not self.told.ex_tax and not self._tax_told():
            self._added_or_in_it(row)
            raise AskedError(Why.TAX, "a price that does not say whether the tax beside it is in it")
        if rate is None and not self.told.ex_tax and mark != "without" and self.has_tax_column():
            raise SetAsideError(Why.TAX, "nothing in the column for the tax")
        of_heading = None if self.told.ex_tax else self.layout.meanings[self.index or 0].rate
        percent = (of_heading or self.rate) if rate is None else _rate(rate)
        if percent is None:
            if rate is not None:
                raise SetAsideError(Why.TAX, f"a rate of tax of {shown(row_values.text(rate))}")
            self._no_rate(row, row_values.text(cell_at(cells, self.index or 0)) if written.tax else "")
            raise AskedError(Why.TAX, "a price without the tax, and no rate to add")
        self.rated += [row] if rate is None else []
        said = f"{percent.normalize():f}"
        self.added[said] += 1
        return taxes.added(net, percent), f"; {net} + {said} % tax"

    def _of_section(self, row: int) -> taxes.Mark:
        """What the last line above a row that tells of the tax says of it; else what holds for the whole sheet."""
        return self.sections.get(max((each for each in self.sections if each < row), default=0), self.tax)

    def _tax_told(self) -> bool:
        """Whether a person said what the column beside the price is: then it is to be added."""
        places = [index for column in ("tax_amount", "tax_rate") for index in self.layout.at.get(column, ())]
        return any(self.layout.meanings[index].how is How.TOLD for index in places)

    def _added_or_in_it(self, row: int) -> None:
        if self._once("added"):
            column = "tax_rate" if self.layout.one("tax_rate") is not None else "tax_amount"
            heading = self.layout.texts[self.layout.at[column][0]]
            self.place.at(self.where(row)).complain(
                "tax",
                found=f"{shown(heading)} beside a price that does not say whether the tax is in it",
                expected="prices with the tax in them, or without",
                mend=(
                    f"say which: it is to be added, {as_mapped(heading, column)};"
                    f" it is in the price, {as_mapped(heading, 'ignore')}"
                ),
            )

    def has_tax_column(self) -> bool:
        """Whether a column has the tax, or its rate."""
        return any(self.layout.one(column) is not None for column in ("tax_amount", "tax_rate"))

    def _with_amount(self, net: Decimal, value: Value, cells: Cells, row: int) -> tuple[Decimal, str]:
        written = prices.price(value)
        if isinstance(written, NoPrice):
            raise SetAsideError(Why.TAX, f"an amount of tax of {shown(row_values.text(value))}")
        self._same_currency(written, cells, row)
        amount = self._amount(written, value, row, "tax_amount")
        return net + amount, f"; {net} + {amount} tax"

    def _no_rate(self, row: int, cell: str) -> None:
        """Ask for the rate; where a ``cell`` says that its price is without the tax and others do not, for it alone."""
        mend = "say the rate to add, for twenty percent: --ex-tax 20"
        only = cell if cell and self._is_said_of_some else ""
        gross = taxes.added(prices.number_in(only, self.decimal) or Decimal(0), _LIKELY_RATE)
        minor = prices.minor_within(gross, self.currency)
        if only and minor is not None:
            whole = typed("word", only, self.currency.text(minor))
            mend = f"say what you will pay, at twenty percent: {whole}; if all prices are without it, --ex-tax 20"
        if self._once(f"rate {only}"):
            found, expected = "a price without the tax in it", "a column with the tax, or its rate in percent"
            found += f" [{only}], and others that do not say so" if only else ""
            self.place.at(self.where(row)).complain("price", found=found, expected=expected, mend=mend)

    @cached_property
    def _is_said_of_some(self) -> bool:
        """Whether some cells with prices say that the tax is not in them, and others nothing of it."""
        lines = self.layout.rows
        cells = (prices.price(cell_at(line.cells, index)) for line in lines for index in self.layout.prices)
        return len({each.tax for each in cells if isinstance(each, AsWritten)}) > 1

    def _said_in_row(self, cells: Cells) -> taxes.Mark:
        value = self._column("tax_said", cells)
        if value is None:
            return ""
        mark = taxes.in_cell(row_values.text(value), self.layout.meanings[self.layout.at["tax_said"][0]].tax)
        if not mark:
            said = row_values.text(value)
            raise SetAsideError(Why.TAX, f"{shown(said)} for whether the tax is in the price", said)
        return mark

    def of_heading(self) -> taxes.Mark:
        """What the heading of the price says of the tax."""
        index = self.layout.one("price") if self.index is None else self.index
        return "" if index is None else self.layout.meanings[index].tax

    def _column(self, column: str, cells: Cells) -> Value:
        index = self.layout.one(column)
        return None if index is None else cell_at(cells, index)

    def _rounded(self, amount: Decimal, pack: int, working: str, row: int) -> Priced:
        if prices.places_of(amount) > self.currency.places:
            self.rounded.append(row)
        try:
            minor = prices.to_minor(amount, self.currency)
        except ValueError as error:
            raise SetAsideError(Why.PRICE, str(error)) from None
        said = working.removeprefix("; ")
        return Priced(minor, pack, f"{said} = {self.currency.text(minor)}" if said else "")

    def _once(self, what: str) -> bool:
        first = what not in self._told_once
        self._told_once.add(what)
        return first

    def where(self, row: int) -> str:
        """A row's place in words."""
        return place_of(self.layout.grid.sheet, row)


def _two_ways(written: AsWritten, value: Value) -> str:
    amount = written.amount
    return f"{shown(row_values.text(value))} can be read as {amount.grouped} or as {amount.parted}"


def amounts(layout: ColumnLayout) -> Iterator[numbers.Digits]:
    """Every amount written as text in the columns of money of a sheet."""
    places = [index for column in ("deposit", "tax_amount") for index in layout.at.get(column, ())]
    places += layout.prices or layout.at.get("price", [])
    for line in layout.rows:
        for index in places:
            cell = cell_at(line.cells, index)
            if isinstance(cell, str):
                written = prices.price(cell)
                if isinstance(written, AsWritten):
                    yield written.amount


_LEAST_TAX, _MOST_TAX = Decimal("0.03"), Decimal("0.35")
"""Shares of a price that a tax on sales may be (common practice, no published source)."""


def rate_or_amount(values: Iterable[tuple[Value, Value]]) -> str:
    """Whether a column called only "VAT" holds a rate or an amount, by its cells beside the prices; "" where either.

    A rate: marked with a percent sign, or the same figure beside different prices.
    An amount: marked with a currency, or different figures that are the same likely share of different prices.
    """
    pairs = [(value, beside) for value, beside in values if value is not None]
    said = [row_values.text(value) for value, _ in pairs]
    if said and all(map(taxes.in_cell, said)):
        return "tax_said"
    if any("%" in text for text in said):
        return "tax_rate"
    if any(prices.with_sign(value) for value, _ in pairs):
        return "tax_amount"
    read = ((prices.number_in(value), prices.number_in(beside)) for value, beside in pairs)
    known = {(rate, price) for rate, price in read if rate is not None and price}
    rates, beside_prices = {rate for rate, _ in known}, {price for _, price in known}
    if len(beside_prices) < 2:
        return ""
    shares = [rate / price for rate, price in known]
    if len(rates) == 1:
        return "tax_rate" if rates <= {Decimal(0)} or max(shares) - min(shares) > Decimal("0.02") else ""
    taxed = [share for share in shares if share]
    likely = len(taxed) > 1 and min(taxed) >= _LEAST_TAX and max(taxed) <= _MOST_TAX
    return "tax_amount" if likely and max(taxed) - min(taxed) <= Decimal("0.02") else ""


def _rate(value: Value) -> Decimal | None:
    if row_values.text(value).casefold().strip() in ("exempt", "zero", "zero rated", "zero-rated", "nil", "none"):
        return Decimal(0)
    return numbers.percent(value if isinstance(value, Decimal) else row_values.text(value))
