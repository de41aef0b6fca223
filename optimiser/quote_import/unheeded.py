"""Nothing that bears money is passed over in silence: whatever of a sheet is left out, and speaks of it, is a doubt.

The columns without a place in a quote are held against the prices beside them; the lines that are no quotes, the
remarks and the rest of the names are read for words about money. A doubt names the words that settle it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import islice

from optimiser.job_folder.problems import Place, shown
from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import Aside, How, TakenRow, Why
from optimiser.quote_import import (
    asking,
    heeding,
    lexicon,
    pieces,
    prices,
    row_values,
    taxes,
)
from optimiser.quote_import.beside_prices import (
    BesidePrices,
    counted,
    is_code,
    is_share,
    is_text,
)
from optimiser.quote_import.columns import as_mapped, letter
from optimiser.quote_import.headings import NOT_ON_OFFER, Meaning
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.rows import Taking
from optimiser.quote_import.unheeded_lines import UnheededLines, first_text
from optimiser.quote_import.unknown_parts import UnknownParts
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import SheetLine, Value, cell_at
from optimiser.text import typed

_MOST_TEXTS = 6
"""Different texts of a column that are asked about one by one; of more, the column is asked about."""
_ABOUT = {"quantities": "quantity", "least": "quantity", "totals": "quantity", "postage": "postage",
          "discounts": "discount", "savings": "discount"}  # fmt: skip
"""What is asked about a column of a kind; of money where nothing else."""


@dataclass
class _Audit:
    """One sheet, with the lines that became quotes or were about a part of the job."""

    taking: Taking
    rows: Sequence[TakenRow]
    aside: Sequence[Aside]
    place: Place
    conditions: dict[int, set[str]] = field(default_factory=dict)
    packs: dict[int, int] = field(default_factory=dict)
    gross: dict[int, Decimal] = field(default_factory=dict)
    """The price of each line that became one quote, as the job takes it."""
    deposits: dict[int, Decimal] = field(default_factory=dict)
    beside: BesidePrices = field(init=False)
    unknown: UnknownParts = field(init=False)
    lines: UnheededLines = field(init=False)

    def __post_init__(self) -> None:
        self.beside = BesidePrices(self.taking, self.packs, self.gross, self.deposits)
        self.unknown = UnknownParts(self.taking, self.rows, self.aside, self.place)
        self.lines = UnheededLines(self.taking, self.rows, self.aside, self.place, self.beside, self.unknown)

    def doubts(self) -> None:
        """Note everything."""
        for row in self.rows:
            self.conditions.setdefault(row.row, set()).add(row.condition)
            self.packs[row.row] = row.pack
            self.gross[row.row] = self.taking.money.currency.decimal(row.price_minor)
            self.deposits[row.row] = self.taking.money.currency.decimal(row.deposit_minor)
        lines = self._lines() if self.taking.layout.prices else []
        for index in range(max((len(line.cells) for line in lines), default=0)):
            self._column(index, lines)
        self._names(lines)
        for heading in self.beside.cartons() if self.rows else ():
            mend = f"write how many each holds into a column pack; if all hold so many, {typed('pack', heading, '1')}"
            at = self.place.at(self.taking.layout.place)
            at.complain("pack", found=shown(heading), expected=asking.EXPECTED["pack"], mend=mend)
        self._unread(lines)
        self._trade_or_retail()
        self._asides()
        self.lines.pinned()
        self.lines.text_lines()
        self.unknown.doubts()
        self.lines.unnamed_suppliers()
        self.lines.without_heading()

    def _trade_or_retail(self) -> None:
        """The price for the trade was taken, and a line speaks of everybody's, which stands beside it."""
        layout, retail = self.taking.layout, lexicon.headings().prices["retail"]
        told = any(layout.meanings[index].how is How.TOLD for index in layout.prices)
        spoken_of = any(retail & {*plain(row.says).split()} for row in self.aside if row.kind is Why.TEXT)
        if told or not spoken_of or not layout.retail:
            return
        with_tax_first = sorted(
            layout.retail, key=lambda index: taxes.said(plain(layout.texts[index]).split())[0] != "with"
        )
        ways = " or ".join(as_mapped(layout.texts[index], "price") for index in (*with_tax_first, *layout.prices))
        found = f"{shown(layout.texts[layout.prices[0]])} beside {shown(layout.texts[with_tax_first[0]])}"
        at = self.place.at(layout.place)
        at.complain("price", found=found, expected="the price that you pay", mend=f"say which: {ways}")

    def _lines(self) -> list[SheetLine]:
        taken = {row.row for row in self.rows}
        wanted = taken | {row.row for row in self.aside if row.part}
        lines = [line for line in self.taking.layout.grid.lines if NOT_ON_OFFER not in line.cells]
        return [x for x in lines if x.number in taken or (x.number in wanted and not row_values.is_sold(x.cells))]

    # columns

    def _column(self, index: int, lines: Sequence[SheetLine]) -> None:
        layout = self.taking.layout
        text = layout.texts[index] if index < len(layout.texts) else ""
        meaning = layout.meanings[index] if index < len(layout.meanings) else Meaning("")
        priced, is_told = index in layout.prices, meaning.how is How.TOLD
        column = "price" if priced else next((column for column, at in layout.at.items() if index in at), "")
        if column and index in layout.grid.hidden_columns and not is_told:
            self._hidden(index, column, lines)
        if priced or (is_told and meaning.column == IGNORE) or self.beside.is_tax_in_price(meaning):
            return
        off = meaning.kind == "discounts" and any(layout.meanings[each].after_discount for each in layout.prices)
        if off or (meaning.column == "pack" and not column and self._hold(index, lines)):
            return
        of_figures = meaning.kind in ("discounts", "savings", "quantities", "least")
        if column in ("refund_share", "good_chance", "warranty_months"):
            unread = set(self.taking.unread.get(column, ()))
            self._texts(index, text, [line for line in lines if line.number in unread], column)
        elif meaning.kind == "harmless" and all(is_share(cell_at(line.cells, index)) for line in lines):
            return  # the rating of a seller
        elif column in ("note", "ref") or (not column and not of_figures and is_text(lines, index)):
            self._texts(index, text, lines, column)
        elif column == "condition":
            self._conditions(index, lines)
        elif not column:
            self._figures(index, text, "packs" if meaning.column == "pack" else meaning.kind, lines)

    def _hold(self, index: int, lines: Sequence[SheetLine]) -> bool:
        """Whether a column names what holds the pieces that another counts, or says as many."""
        pairs = ((cell_at(line.cells, index), self.packs.get(line.number)) for line in lines)
        return all(cell is None or row_values.is_holder(cell) or row_values.count(cell) == n for cell, n in pairs)

    def _hidden(self, index: int, column: str, lines: Sequence[SheetLine]) -> None:
        """A column that is not shown and was taken for one of a quote's."""
        if any(cell_at(line.cells, index) is not None for line in lines):
            text = self.taking.layout.texts[index]
            mend = f"say whether it counts: {as_mapped(text, column)}; or {as_mapped(text, IGNORE)}"
            at = self.place.at(self.taking.layout.place)
            at.complain(
                column, found=f"{shown(text)}, a column that is hidden", expected="columns that are shown", mend=mend
            )

    def _texts(self, index: int, heading: str, lines: Sequence[SheetLine], column: str) -> None:
        """Remarks and other words: those that speak of money are asked about."""
        found: dict[str, tuple[SheetLine, str]] = {}
        for line in lines:
            text = row_values.text_at(line.cells, index)
            about = self._of_remark(line, text, column) or (heeding.kind(heading) if not column and text else "")
            if about and not (column == "note" and self.taking.is_own_word(text)):
                found.setdefault(text, (line, about))
        text, (line, about) = next(iter(found.items()), ("", (SheetLine(0, ()), "")))
        if len(found) > _MOST_TEXTS and heading:
            mend = f"if none of them changes a price: {as_mapped(heading, IGNORE)}"
            self._complain(line, about, f"{len(found)} remarks under {shown(heading)} that speak of money", mend)
        elif found and not column and heading:
            ways = asking.of_words(heading, about, text)
            self._complain(line, about, f"{shown(text)} under {shown(heading)}, which is left out", ways)
        else:
            for text, (line, about) in islice(found.items(), 20):
                asking.ask(self._at(line), about, text, supplier=self.lines.supplier(), one_row=column == "note")

    def _of_remark(self, line: SheetLine, text: str, column: str) -> str:
        """What a remark speaks of; a code and the number of a part do not."""
        about = heeding.kind(text) if column != "ref" and text and not is_code(text) else ""
        is_foreign = currencies.others_in(text, self.taking.money.currency) == [text.strip()]
        if not about and column == "note" and pieces.small_count(text):
            about = "pack"
        if about == "pack" and column == "note" and self._is_of_its_pack(line, text):
            about = ""
        return (
            about or self._other_condition(line, text, column) or ("currency" if column != "ref" and is_foreign else "")
        )

    def _is_of_its_pack(self, line: SheetLine, text: str) -> bool:
        """Whether a remark says no more than how many pieces the pack of its row holds: "pair" beside a pack of 2."""
        count, rest = pieces.in_name(text)
        return count > 1 and not plain(rest) and self.beside.packs.get(line.number) == count

    def _complain(self, line: SheetLine, about: str, found: str, mend: str, expected: str = "") -> None:
        self._at(line).complain(about, found=found, expected=expected or asking.EXPECTED[about], mend=mend)

    def _other_condition(self, line: SheetLine, text: str, column: str) -> str:
        """A remark that names another condition than its row was taken with."""
        if column != "note" or not text:
            return ""
        named, _, why = row_values.condition(text, strong_only=True)
        if named is None:
            return "sale" if "working" in why else ""
        taken = self.conditions.get(line.number, set())
        return "condition" if taken and taken != {named} else ""

    def _conditions(self, index: int, lines: Sequence[SheetLine]) -> None:
        first = {row_values.text_at(line.cells, index): line for line in reversed(lines)}
        for text, line in first.items():
            condition, rest, _ = row_values.condition(text)
            about = heeding.kind(rest) if condition is not None and rest else ""
            if about:
                asking.ask(self._at(line), about, text, str(condition))

    def _figures(self, index: int, heading: str, kind: str, lines: Sequence[SheetLine]) -> None:
        """A column of figures that is left out: it must follow from the prices, or be none of their business."""
        pairs = [(line, cell) for line in lines if (cell := cell_at(line.cells, index)) is not None]
        if not pairs or (kind == "harmless" and not any(prices.with_sign(cell) for _, cell in pairs)):
            return
        agrees: Callable[[SheetLine, Value], bool] = {
            "references": self.beside.is_more,
            "quantities": self.beside.is_one,
            "totals": self.beside.is_total,
            "discounts": self.beside.is_taken_off,
            "savings": self.beside.is_saved,
            "least": lambda _, cell: counted(cell) in (None, Decimal(0), Decimal(1)),
            "postage": lambda _, cell: prices.number_in(cell) in (None, Decimal(0)),
            "packs": self.beside.is_one,
            "other_money": lambda _, cell: not (isinstance(cell, str) and heeding.kind(cell) not in ("", "money")),
        }.get(kind, self.beside.is_no_money)
        odd = next(((line, cell) for line, cell in pairs if not agrees(line, cell)), None)
        of_lines = not kind and (self._counts_lines(index) or self.beside.is_to_pay(pairs))
        if odd is None or of_lines or self.beside.is_other_price(index, pairs):
            return
        is_band = kind == "quantities" and prices.number_in(odd[1]) is None and counted(odd[1]) is not None
        self._complain_of_column(index, heading, _ABOUT.get(kind, "money"), odd, least=kind == "least" or is_band)

    def _counts_lines(self, index: int) -> bool:
        """Whether a column holds 1, 2, 3 and so on: the numbers of the lines."""
        cells = (cell_at(line.cells, index) for line in self.taking.layout.rows)
        numbers = [prices.number_in(cell) for cell in cells if cell is not None]
        fewest = 2 if self.taking.layout.is_lettered and not index else 3
        return len(numbers) >= fewest and numbers == list(range(1, len(numbers) + 1))

    def _complain_of_column(
        self, index: int, heading: str, about: str, odd: tuple[SheetLine, Value], *, least: bool
    ) -> None:
        line, cell = odd
        layout = self.taking.layout
        named = heading or f"column {letter(index)}"
        price = layout.texts[layout.prices[0]] if least else ""
        ordered = layout.one("stock") is not None or bool(layout.of_kind("totals")) or layout.is_of_order
        amounts, of_lines = self._amounts(index), about == "quantity" and self._are_of_lines()
        ordered = ordered or about != "quantity"
        ways = asking.of_column(
            named,
            about,
            prices.price(cell),
            price,
            self.lines.supplier(),
            amounts=amounts,
            ordered=ordered,
            of_lines=of_lines,
        )
        found = f"{shown(row_values.text(cell))} under {shown(named)}, which is left out"
        self._complain(line, about, found, f"say what it is: {ways}")

    def _are_of_lines(self) -> bool:
        """Whether a total at the foot is the sum of the prices as they stand, which are those of whole lines then."""
        decimal = self.taking.money.decimal
        whole = sum(filter(None, map(self.beside.price, self._lines())), Decimal(0))
        says = (each for row in self.aside if row.kind is Why.TOTAL for each in row.says.split(" | ")[1:])
        return any(prices.number_in(each, decimal) == whole for each in says)

    def _amounts(self, index: int) -> list[Decimal]:
        """The different amounts in a column; none where a cell holds none."""
        cells = [cell_at(line.cells, index) for line in self._lines()]
        amounts = {prices.number_in(cell, self.taking.money.decimal) for cell in cells if cell is not None}
        return [] if None in amounts else [each for each in amounts if each is not None]

    # names, cells that cannot be read, rows

    def _names(self, lines: Sequence[SheetLine]) -> None:
        """What the name of a part says besides the part, its condition and the pieces."""
        parts = {row.row: row.part for row in self.rows}
        named = (
            (line, index) for line in lines if line.number in parts for index in self.taking.layout.at.get("part", ())
        )
        first = {text: line for line, index in reversed(list(named)) if (text := row_values.text_at(line.cells, index))}
        for text, line in reversed(first.items()):
            part = parts[line.number]
            about = self._of_name(line, text, part)
            if about == "pack" and not self.taking.money.is_pack_told(text):
                likely = typed("pack", text, str(pieces.likely(text)))
                self._complain(line, about, shown(text), f"say how many: {likely}, or the number that it is")
            elif about and about != "pack":
                asking.ask(self._at(line), about, text, part)

    def _of_name(self, line: SheetLine, text: str, part: str) -> str:
        """What the name of a part speaks of besides."""
        rest = self.taking.parts.besides(text, part)
        named, _, why = row_values.condition(text, strong_only=True)
        others = self.conditions.get(line.number, set()) - {named}
        if "working" in why:
            return "sale"
        if named is not None and others and len(self.taking.layout.prices) == 1:
            return "condition"
        besides = rest if not self.taking.parts.pieces(text, part) else ""
        return "pack" if pieces.AT.search(text) else heeding.kind(besides) or pieces.small_number(besides)

    def _unread(self, lines: Sequence[SheetLine]) -> None:
        """Stock, days and dates that cannot be read."""
        for column in ("stock", "lead_days", "valid_until"):
            index, numbers = self.taking.layout.one(column), set(self.taking.unread.get(column, ()))
            unread = [line for line in lines if line.number in numbers] if index is not None else []
            if index is None or not unread:
                continue
            heading, expected = self.taking.layout.texts[index], f"what can be read as {column}"
            texts = dict.fromkeys(row_values.text_at(line.cells, index) for line in unread)
            if len(texts) > _MOST_TEXTS:
                found = f"{len(texts)} cells under {shown(heading)} that cannot be read"
                self._complain(
                    unread[0], column, found, f"if it does not matter: {as_mapped(heading, IGNORE)}", expected
                )
                continue
            for text in texts:
                money = column == "lead_days" and heeding.kind(text) == "money"
                means = "2026-12-31" if column == "valid_until" else "0"
                mend = f"say what it means: {typed('word', text, IGNORE)}, or {typed('word', text, means)}"
                if money:
                    mend = asking.of_postage_there(
                        heading, text, mend, self.lines.supplier(), one=len(self._amounts(index)) == 1
                    )
                self._complain(unread[0], "postage" if money else column, f"{shown(text)} for {column}", mend, expected)

    def _asides(self) -> None:
        """Rows about a part of the job that cannot be taken: each reason once."""
        asked: dict[tuple[Why, str], Aside] = {}
        for row in self.aside:
            whole = not self.rows and not row.about and row.kind in (Why.SUPPLIER, Why.CONDITION)
            if row.part and row.kind is not Why.NO_PRICE and not row.asked and not whole:
                asked.setdefault((row.kind, row.about or row.reason), row)
        for (kind, _), row in islice(asked.items(), 30):
            found, money = f"{row.reason} [{shown(row.says)[1:-1]}]", self.taking.money.currency
            mend, expected = asking.of_row(kind, row, first_text(row), money), f"a quote for {row.part}"
            self.place.at(row.place).complain(kind.value, found=found, expected=expected, mend=mend)

    def _at(self, line: SheetLine) -> Place:
        return self.place.at(self.taking.layout.grid.place(line))


def doubts(takings: Sequence[Taking], rows: Sequence[TakenRow], aside: Sequence[Aside], place: Place) -> None:
    """Note everything in the sheets that was left out and speaks of money."""
    rows_of: dict[str, list[TakenRow]] = {}
    aside_of: dict[str, list[Aside]] = {}
    for row in rows:
        rows_of.setdefault(row.sheet, []).append(row)
    for left in aside:
        aside_of.setdefault(left.sheet, []).append(left)
    for taking in takings:
        name = taking.layout.grid.sheet
        _Audit(taking, rows_of.get(name, []), aside_of.get(name, []), place).doubts()
