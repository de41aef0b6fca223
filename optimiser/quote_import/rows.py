"""One row of a sheet after another: a quote, or a row set aside with its reason."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cached_property

from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import Aside, How, TakenRow, Told, Why
from optimiser.model.quotes import Condition
from optimiser.quote_import import general_condition, heeding, lexicon, pieces, prices, row_values, taxes
from optimiser.quote_import.columns import ENOUGH, ColumnLayout, score
from optimiser.quote_import.headings import NOT_ON_OFFER, PRICES, Variant, meaning
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.naming import Parts, Suppliers, condition_of
from optimiser.quote_import.plain_lines import names_none
from optimiser.quote_import.row_price import AskedError, Priced, SetAsideError, SheetMoney
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import Cells, SheetLine, UnfitCell, Value, cell_at

NAMELESS = "no part is named"
AS_IT_STANDS = "as it stands"
"""What a person says of something that is odd and right all the same."""
SOLD = "it is sold"
KEPT = "it is kept for somebody"
SERVICE = "a line of text: work, or what is lent, and no part"
_MOST_NEAREST = 1000
"""Different names for which the nearest parts are worked out."""
_OF_THE = frozenset(
    ("of", "the", "de", "del", "la", "las", "los", "le", "les", "du", "des", "der", "die", "das", "di", "do", "da")
)
CHARGES = ("deposit", "discount", "postage", "tax")
_PACK_OF = re.compile(r"pack of ([1-9]\d{0,4})")
_DEPOSIT = re.compile(r"deposit (\d{1,7}(?:\.\d{1,2})?)")
_AMOUNT = r"\d{1,7}(?:\.\d{1,4})?"
_TERMS = re.compile(
    rf"(?=\S)(?:postage (?P<postage>{_AMOUNT}))?(?:(?:^| )free over (?P<free_over>{_AMOUNT}))?"
    rf"(?:(?:^| )minimum order (?P<minimum_order>{_AMOUNT}))?"
)
_DISCOUNT = re.compile(r"discount (\d{1,2}(?:\.\d{1,2})?)")
_VALID = re.compile(r"valid until (\d{4}-\d\d-\d\d)")
_LONGEST_NAMED, _LONGEST_SAID, _LONGEST_NOTE, _LONGEST_LINE = 60, 120, 1000, 500


@dataclass
class Taking:
    """What the rows of a sheet are read with, and what has been noticed on the way."""

    layout: ColumnLayout
    money: SheetMoney
    parts: Parts
    suppliers: Suppliers
    told: Told
    supplier: str
    """The supplier of the whole sheet; rows may name another."""
    day_first: bool | None
    unread: dict[str, list[int]] = field(default_factory=dict)
    either_date: list[int] = field(default_factory=list)
    condition_used: bool = False
    as_told: list[int] = field(default_factory=list)
    """Rows that have their condition as it was told."""
    section: Condition | None = None
    """The condition that a line by itself gives to all rows below it."""
    of_all: Condition | None = None
    """The condition that a line above the headings gives to all rows, until a section names one of its own."""
    of_the_rest: Condition | None = None
    """The condition of rows that have no word for their own, as a line of text says."""
    section_supplier: str | None = None
    """The supplier that a line by itself gives to all rows below it; empty where the last such line names none."""
    _section_row: int = -1
    """The row of the last line that began a section, or might have."""
    other_headings: int = 0
    """The row of other headings further down; nothing below it is read by those above."""
    _nearest: dict[str, tuple[str, ...]] = field(default_factory=dict)
    deposit_of_all: str = ""
    """The deposit on every exchange part, as a person said of a line of text."""
    valid_until: date | None = None
    """The last day of all offers in the sheet, as a line of text says it."""
    elsewhere: list[SheetLine] = field(default_factory=list)
    """The lines of those sheets of the file that hold no quotes."""
    proven_sums: Sequence[Decimal] = ()
    """The amounts at the foot by which it is known whether the tax is in the prices."""
    understood: set[str] = field(default_factory=set)
    """Lines of text that were followed."""
    words_used: set[str] = field(default_factory=set)
    """What a person said of something that is no cell, and that was asked for."""
    _of_services: bool = False
    """Whether the last line without a price says that work, or what is lent, stands below it."""
    _wanted: str = ""
    """The part of the job that the line at hand is about."""

    def rows(self) -> Iterator[TakenRow | Aside]:
        """Every line below the headings, and every line of text above them."""
        lines = self.layout.grid.lines
        for line in lines[: self.layout.first]:
            yield self._aside(line, Why.TEXT, "a line above the headings")
        for line in lines[self.layout.last + 1 :]:
            yield from self._quotes(line)

    def _quotes(self, line: SheetLine) -> Iterator[TakenRow | Aside]:
        """A quote for each price column in which the line has something, or the one reason why there is none."""
        filled = [index for index in self.layout.prices if index < len(line.cells) and line.cells[index] is not None]
        columns: list[int | None] = [*filled] or [*self.layout.prices[:1]] or [None]
        each = ((index, cells) for index in columns for cells in _with_one_price(line.cells, index))
        for index, cells in each:
            self._wanted = ""
            try:
                row = self._row(SheetLine(line.number, cells), index)
            except SetAsideError as reason:
                row = self._aside(line, reason.kind, reason.reason, about=reason.about)
                row = replace(row, asked=isinstance(reason, AskedError))
            yield row
            if isinstance(row, Aside) and not self._wanted:
                return

    def _row(self, line: SheetLine, index: int | None) -> TakenRow | Aside:
        cells = line.cells
        self._must_be_a_quote(line)
        variant = (None if index is None else self.layout.meanings[index].variant) or Variant()
        if self.other_headings:
            raise SetAsideError(Why.SHAPE, f"it stands below other headings, those of row {self.other_headings}")
        texts = [text for index in self.layout.at.get("part", ()) if (text := self._text(cells, index))]
        ref = self._said("ref", cells)
        if not texts and not ref:
            raise self._nameless(line.number)
        if self._is_service(cells, texts):
            raise SetAsideError(Why.TEXT, SERVICE)
        side = variant.side or self._side(cells)
        match, named = self.parts.of_row(texts, ref, side)
        if match is None:
            return self._unknown_part(line, named or ref)
        self._wanted = match.id
        self._heed_flag(line.number)
        notes = [note for index in self.layout.at.get("note", ()) if (note := self._text(cells, index))]
        notes += [text for text in texts if text != named and plain(text) != plain(match.id)]
        others = {place for place in self.layout.prices if place != index}
        if row_values.is_sold(tuple(cell for place, cell in enumerate(cells) if place not in others)):
            raise SetAsideError(Why.NO_PRICE, SOLD)
        if self._by_state(cells) and row_values.is_kept(state := self._said("stock", cells)):
            raise SetAsideError(Why.CONDITION, KEPT, state)
        if NOT_ON_OFFER in cells:
            raise SetAsideError(Why.NO_PRICE, "it is not on offer")
        own = _OwnWords.of(notes)
        state = self._said("condition", cells)
        by_name = self._own_condition(named, match.id)
        whole = self.section or by_name or self.told.condition or self.of_all
        condition = variant.condition or condition_of(state, [*texts, *notes], whole, self.of_the_rest)
        self.condition_used = self.condition_used or not state
        if not (state or variant.condition or self.section or by_name) and self.told.condition:
            self.as_told.append(line.number)
        price = self.money.priced(
            cells, line.number, index, own.pieces or self.parts.pieces(f"{named} {side}", match.id), own.tax
        )
        price, deposit = self._and_deposit(price, line, condition == "refurbished", own)
        supplier, rest = self._supplier_of(cells), _Rest(self, cells, line.number, notes)
        return TakenRow(
            sheet=self.layout.grid.sheet,
            row=line.number,
            part=match.id,
            supplier=supplier,
            condition=condition,
            price_minor=price.minor,
            pack=price.pack,
            stock=rest.stock(),
            good_chance=rest.share("good_chance"),
            deposit_minor=deposit,
            refund_share=rest.share("refund_share"),
            lead_days=rest.days(),
            warranty_months=rest.months(),
            valid_until=rest.valid_until(),
            ref=ref,
            note="; ".join(notes)[:_LONGEST_NOTE],
            written="" if index is None else self._text(cells, index),
            working=price.working,
        )

    def _own_condition(self, name: str, part: str) -> Condition | None:
        """The condition in a row's name, beside one told; beside what is said of all, where it says no more."""
        sure = self.told.condition or (self.of_all and not pieces.in_name(self.parts.besides(name, part))[1])
        return row_values.condition(name, strong_only=True)[0] if sure else None

    def _supplier_of(self, cells: Cells) -> str:
        """The supplier that the row names, else that of the section or the sheet."""
        if named := self._said("supplier", cells):
            return self.suppliers.find(named)
        whole = self.supplier if self.section_supplier is None else self.section_supplier
        if not whole:
            raise SetAsideError(Why.SUPPLIER, "no supplier is named")
        return whole

    def _is_service(self, cells: Cells, texts: Sequence[str]) -> bool:
        """Whether a line is about work, or what is lent: a cell beside its name, its name, or what is above it."""
        services = lexicon.headings().rows["services"]
        says_so = any(isinstance(cell, str) and cell not in texts and plain(cell) in services for cell in cells)
        if not any(prices.is_amount(self._text(cells, index)) for index in self.layout.prices):
            self._of_services = says_so or any(plain(text) in services for text in texts)
            return False
        return says_so or self._of_services or any(map(self._is_work_on_part, texts))

    def _is_work_on_part(self, name: str) -> bool:
        """Whether a name is that of a part with a word for work before it: "Fit alternator"."""
        first, *others = plain(name).split() or [""]
        rest = " ".join(word for word in others if word not in _OF_THE)
        return (
            first in lexicon.headings().rows["work"] and self.parts.is_named_in(rest) and not self.parts.is_named(name)
        )

    def _nameless(self, row: int) -> SetAsideError:
        if self.told_of(names_none(row)) == IGNORE:
            return SetAsideError(Why.TEXT, f"a line of text: {names_none(row)}")
        return SetAsideError(Why.PART, NAMELESS)

    def _and_deposit(self, price: Priced, line: SheetLine, of_exchange: bool, own: _OwnWords) -> tuple[Priced, int]:
        """The price without a deposit that is in it, and the deposit; beside other prices it is on exchange parts."""
        conditions = {None if each is None else each.condition for each in self.variants}
        deposit = 0
        if of_exchange or len(self.variants) < 2 or "refurbished" not in conditions:
            deposit = self.money.deposit(line.cells, line.number)
        price = self.money.without_deposit(price, deposit)
        deposit = deposit or own.deposit(self.money)
        of_all = _OwnWords(amount=self.deposit_of_all) if of_exchange else _OwnWords()
        deposit = deposit or of_all.deposit(self.money)
        if of_exchange and not deposit and (inside := next(iter(self._deposits_inside.values()), 0)):
            return self.money.without_deposit(price, inside, inside=True), inside
        return price, deposit

    @cached_property
    def _deposits_inside(self) -> dict[str, int]:
        """The deposit that is in every price, by the one line of text that says so."""
        if self.layout.one("deposit") is not None:
            return {}
        texts = [row_values.text(each.cells[0]) for each in self.layout.grid.lines if len(each.cells) == 1]
        sums = {text: prices.price(said) for text in texts if (said := heeding.deposit_in_every_price(text))}
        found = {
            text: prices.minor_within(read.amount.value, self.money.currency) or 0
            for text, read in sums.items()
            if isinstance(read, prices.AsWritten) and read.amount.value is not None
            if not read.currency or currencies.fits(read.currency, self.money.currency)
        }
        return found if len(sums) == 1 else {}

    @property
    def variants(self) -> list[Variant | None]:
        """What each column of prices is for."""
        return [self.layout.meanings[index].variant for index in self.layout.prices]

    @cached_property
    def has_ticks(self) -> bool:
        """Whether the stock is told by ticks, or a word for yes."""
        index = self.layout.one("stock")
        return index is not None and any(map(row_values.says_yes, self.layout.below(index)))

    def _by_state(self, cells: Cells) -> bool:
        """Whether a column for the state says what is to be had."""
        index = self.layout.one("stock")
        return index is not None and self.layout.meanings[index].how is How.CELLS and index < len(cells)

    def _side(self, cells: Cells) -> str:
        """The side in a column of its own."""
        said = self._said("side", cells)
        return said if any(map(str.isalpha, said)) else ""

    def _must_be_a_quote(self, line: SheetLine) -> None:
        """Lines of text, headings again, sums: none of them is a quote."""
        cells = line.cells
        filled = [cell for cell in cells if cell is not None]
        if len(filled) == 1 and isinstance(filled[0], str):
            self._section(filled[0], line.number)
        width = len(self.layout.texts)
        if len(cells) > width and not self.layout.grid.spreadsheet:
            raise SetAsideError(Why.SHAPE, f"{len(cells)} cells where the headings are {width}")
        index = self.layout.one("part")
        if index is not None and index < len(cells) and isinstance(cells[index], UnfitCell):
            raise SetAsideError(Why.FIELD, row_values.text(cells[index]))
        if filled == [text for text in self.layout.texts if text]:
            raise SetAsideError(Why.TEXT, "the headings again")
        if self._is_sum(cells):
            raise SetAsideError(Why.TOTAL, "a sum or a charge, no quote")

    def _is_sum(self, cells: Cells) -> bool:
        """Whether the first words of a line are those of a sum or a charge, or, where no part stands, hold one."""
        words = lexicon.headings()
        texts = (cell for cell in cells if isinstance(cell, str))
        first = next((text for text in texts if text[:1].isalpha() or not prices.is_amount(text)), "")
        begins = plain(first).rstrip(" 0123456789")
        if begins in words.rows["totals"] or words.left_out.get(begins) == "postage":
            return True
        if self.postage_said(first) is not None:
            return True
        named = any(self._text(cells, index) not in ("", first) for index in self.layout.at.get("part", ()))
        if named or not first:
            return False
        charged = self._said("part", cells) != first and heeding.kind(first) in CHARGES
        holds = charged or not words.rows["sums"].isdisjoint(plain(first).split())
        return holds and self.parts.names.find(first) is None

    def _heed_flag(self, row: int) -> None:
        """A row that is hidden or struck through is taken, or left out, on a person's word alone."""
        flag = self.layout.grid.flags.get(row)
        if flag is None:
            return
        about = f"row {row} is {flag}"
        said = self.told_of(about)
        if said == IGNORE:
            self._wanted = ""
            raise SetAsideError(Why.TEXT, about)
        if said is None:
            raise SetAsideError(Why.FIELD, about, about)

    def told_of(self, about: str) -> str | None:
        """What a person said that something about a row means."""
        said = {plain(text): meaning for text, meaning in self.told.words.items()}.get(plain(about))
        if said is not None:
            self.words_used.add(plain(about))
        return said

    def is_own_word(self, text: str) -> bool:
        """Whether a remark is in the words that settle a doubt."""
        return _OwnWords.of([text]) != _OwnWords() or self.sets_terms(text)

    def deposit_said(self, cell: Value) -> str:
        """The deposit that a cell is by a person's word."""
        found = _DEPOSIT.fullmatch(cell) if isinstance(cell, str) and cell in self.told.words.values() else None
        return found[1] if found else ""

    def discount_said(self, cell: Value) -> Decimal | None:
        """The percent that a line takes off all prices by a person's word."""
        found = _DISCOUNT.fullmatch(cell) if isinstance(cell, str) and cell in self.told.words.values() else None
        return Decimal(found[1]) if found else None

    def postage_said(self, cell: Value) -> Decimal | None:
        """The postage that a cell is by a person's word: the same words in a sheet of theirs are no such thing."""
        return self.term_said(cell, "postage")

    def term_said(self, cell: Value, term: str) -> Decimal | None:
        """An amount among the terms of orders that a cell names by a person's word, by its column in suppliers.csv."""
        found = _TERMS.fullmatch(cell) if isinstance(cell, str) and cell in self.told.words.values() else None
        return Decimal(found[term]) if found and found[term] else None

    def sets_terms(self, cell: Value) -> bool:
        """Whether a cell names terms of orders by a person's word."""
        return any(self.term_said(cell, term) is not None for term in _TERMS.groupindex)

    def heeds_elsewhere(self, text: str, about: str) -> bool:
        """Whether what a sheet without quotes says was followed here, or is settled by a person's word."""
        settled = (about == "tax" and self.told.ex_tax) or self.sets_terms(text)
        return bool(settled) or text in self.understood

    def is_understood(self, text: str) -> bool:
        """Whether a line of text was followed, or says of deposits no more than their column does."""
        has_deposits = self.layout.one("deposit") is not None
        no_more = (heeding.is_exchange_alone, heeding.is_of_untaxed_deposit, heeding.is_paid_back)
        return (
            (has_deposits and any(says(text) for says in no_more))
            or text in self._deposits_inside
            or text in self.understood
            or text == self.suppliers.by_line
            or heeding.is_greeting(text)
            or self.suppliers.is_name_of(text, self.supplier)
            or bool(self.suppliers.named_by(text))
        )

    def _section(self, text: str, row: int) -> None:
        """A line by itself begins a section, which ends the one before it whether or not it is understood; unless it
        stands right below that, and says something else that is followed.
        """
        goes_on = row - self._section_row <= 1 and text in self.understood
        self._section_row = row
        named = general_condition.of_section(text)
        if named is not None:
            self.section, self.of_all = named, None
            raise SetAsideError(Why.TEXT, f"a line of text: the rows below it are taken as {named}")
        supplier = "" if self.told.supplier else self.suppliers.named_by(text)
        if not goes_on:
            self.section = None
        if supplier or (self.section_supplier is not None and not goes_on):
            self.section_supplier = supplier
        if supplier:
            raise SetAsideError(Why.TEXT, f"a line of text: the rows below it are offers of {supplier}")
        raise SetAsideError(Why.TEXT, "a line of text")

    def _unknown_part(self, line: SheetLine, named: str) -> Aside:
        if self._are_headings(line.cells):
            self.other_headings = line.number
            raise SetAsideError(Why.SHAPE, "other headings")
        if self.told.words and self.told_of(named) == IGNORE:  # a name of two cells
            raise SetAsideError(Why.TEXT, "a line of text")
        if named not in self._nearest and len(self._nearest) < _MOST_NEAREST:
            self._nearest[named] = self.parts.names.nearest(named)
        reason = f'"{named[:_LONGEST_NAMED]}" is no part of the job'
        return self._aside(line, Why.PART, reason, self._nearest.get(named, ()), named)

    def _are_headings(self, cells: Cells) -> bool:
        """Whether a line without a price is one of other headings."""
        above_prices = [self._text(cells, index) for index in self.layout.prices]
        if any(prices.is_amount(text) for text in above_prices):
            return False
        texts = all(cell is None or isinstance(cell, str) for cell in cells)
        of_prices = any(meaning(text, self.money.currency).column in PRICES for text in above_prices)
        return texts and (of_prices or score(cells) >= ENOUGH)

    def _aside(
        self, line: SheetLine, kind: Why, reason: str, nearest: tuple[str, ...] = (), named: str = "", about: str = ""
    ) -> Aside:
        says = " | ".join(row_values.text(cell) for cell in line.cells[:12] if cell is not None)
        return Aside(
            self.layout.grid.sheet,
            line.number,
            kind,
            reason,
            says[: _LONGEST_LINE if kind is Why.TEXT else _LONGEST_SAID],
            nearest,
            named,
            self._wanted,
            about,
        )

    def _said(self, column: str, cells: Cells) -> str:
        index = self.layout.one(column)
        return "" if index is None else self._text(cells, index)

    @staticmethod
    def _text(cells: Cells, index: int) -> str:
        return row_values.text(cells[index]) if index < len(cells) else ""


def _with_one_price(cells: Cells, index: int | None) -> list[Cells]:
    """The line, once for each of the prices that a cell holds."""
    if index is None or index >= len(cells):
        return [cells]
    return [(*cells[:index], price, *cells[index + 1 :]) for price in prices.each_of(cells[index])]


@dataclass(frozen=True)
class _OwnWords:
    """What remarks say in the words that settle a doubt: "pack of 2", "deposit 25.00", "plus VAT", a last day."""

    pieces: int = 0
    amount: str = ""
    tax: taxes.Mark = ""
    until: date | None = None

    @classmethod
    def of(cls, notes: list[str]) -> _OwnWords:
        """The words of a row's remarks."""
        pieces = next((int(found[1]) for note in notes if (found := _PACK_OF.fullmatch(note))), 0)
        amount = next((found[1] for note in notes if (found := _DEPOSIT.fullmatch(note))), "")
        amount = amount or next(filter(None, map(heeding.deposit_on_top, notes)), "")
        tax: taxes.Mark = next(
            (mark for note in notes if (mark := taxes.in_cell(note)) and taxes.names_tax(plain(note).split())), ""
        )
        days = (row_values.day(found[1], day_first=None)[0] for note in notes if (found := _VALID.fullmatch(note)))
        return cls(pieces, amount, tax, next(days, None))

    def deposit(self, money: SheetMoney) -> int:
        """The deposit in minor units."""
        return prices.to_minor(Decimal(self.amount), money.currency) if self.amount else 0


@dataclass
class _Rest:
    """The cells of a row that no plan falls with: what cannot be read stays as a note, and is counted."""

    taking: Taking
    cells: Cells
    row: int
    notes: list[str]

    def _value(self, column: str) -> Value:
        index = self.taking.layout.one(column)
        value = self.cells[index] if index is not None and index < len(self.cells) else None
        return None if isinstance(value, str) and not value.strip("-\N{EN DASH}\N{EM DASH} ") else value

    def _times(self, column: str) -> int:
        index = self.taking.layout.one(column)
        return 1 if index is None else self.taking.layout.meanings[index].times

    def _unread(self, column: str, value: Value) -> None:
        self.notes.append(f"{column}: {row_values.text(value)}")
        self.taking.unread.setdefault(column, []).append(self.row)

    def stock(self) -> int | None:
        index = self.taking.layout.one("stock")
        if row_values.is_no_tick(None if index is None else cell_at(self.cells, index)) and self.taking.has_ticks:
            return 0
        value = self._value("stock")
        if value is None:
            return next((packs for each in self.notes if (packs := row_values.stock_in(each)) is not None), None)
        known, packs = row_values.stock(value)
        if not known and not heeding.is_wait(value):
            self._unread("stock", value)
        return packs

    def share(self, column: str) -> float | None:
        value = self._value(column)
        if value is None:
            return None
        read = row_values.share(value)
        if read is None:
            self._unread(column, value)
        return read

    def days(self) -> int | None:
        stock = self._value("stock")
        if self.taking.layout.one("lead_days") is None and heeding.is_wait(stock):
            return row_values.days(stock)
        return self._span("lead_days", row_values.days)

    def months(self) -> int | None:
        return self._span("warranty_months", row_values.months)

    def _span(self, column: str, read: Callable[[Value, int], int | None]) -> int | None:
        value = self._value(column)
        if value is None or self.taking.postage_said(value) is not None:
            return None
        if column == "lead_days" and plain(row_values.text(value)) in lexicon.headings().prices["free"]:
            return None  # it costs nothing, and nothing is said of how long it takes
        span = read(value, self._times(column))
        if span is None or span > row_values.MOST:
            self._unread(column, value)
            return None
        return span

    def valid_until(self) -> date | None:
        value = self._value("valid_until")
        if value is None:
            return _OwnWords.of(self.notes).until or self.taking.valid_until
        read, either = row_values.day(value, day_first=self.taking.day_first)
        if read is None:
            self._unread("valid_until", value)
        elif either:
            self.taking.either_date.append(self.row)
        return read
