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
from optimiser.model.imports import Aside, How, Key, TakenRow, Why, place_of
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
    FootSums,
    counted,
    has_amount,
    is_code,
    is_share,
    is_text,
    rate_of,
)
from optimiser.quote_import.columns import as_mapped, letter
from optimiser.quote_import.headings import NOT_ON_OFFER, Meaning, meaning
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.naming import BEHIND_NAME
from optimiser.quote_import.rows import Taking
from optimiser.quote_import.unknown_parts import UnknownParts
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import SheetLine, Value, cell_at
from optimiser.text import typed

_MOST_TEXTS = 6
"""Different texts of a column that are asked about one by one; of more, the column is asked about."""
_MOST_LINES = 12
_LONGEST_NAME = 8
"""Words of a line that is a name and nothing else."""
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
    sums: FootSums | None = None
    """What the lines of sums are held against, once it is wanted."""

    def __post_init__(self) -> None:
        self.beside = BesidePrices(self.taking, self.packs, self.gross, self.deposits)
        self.unknown = UnknownParts(self.taking, self.rows, self.aside, self.place)

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
        self._asides()
        self._pinned()
        self._text_lines()
        self.unknown.doubts()
        self._unnamed_suppliers()
        self._without_heading()

    def _lines(self) -> list[SheetLine]:
        wanted = {row.row for row in self.rows} | {row.row for row in self.aside if row.part}
        lines = [line for line in self.taking.layout.grid.lines if NOT_ON_OFFER not in line.cells]
        return [line for line in lines if line.number in wanted and not row_values.is_sold(line.cells)]

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
                asking.ask(self._at(line), about, text, supplier=self._supplier(), one_row=column == "note")

    def _of_remark(self, line: SheetLine, text: str, column: str) -> str:
        """What a remark speaks of; a code and the number of a part do not."""
        about = heeding.kind(text) if column != "ref" and text and not is_code(text) else ""
        is_foreign = currencies.others_in(text, self.taking.money.currency) == [text.strip()]
        if not about and column == "note" and pieces.small_count(text):
            about = "pack"
        return (
            about or self._other_condition(line, text, column) or ("currency" if column != "ref" and is_foreign else "")
        )

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
            self._supplier(),
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

    # names, cells that cannot be read, rows, lines

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
                        heading, text, mend, self._supplier(), one=len(self._amounts(index)) == 1
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
            mend, expected = asking.of_row(kind, row, _first_text(row), money), f"a quote for {row.part}"
            self.place.at(row.place).complain(kind.value, found=found, expected=expected, mend=mend)

    def _pinned(self) -> None:
        """Notes pinned to cells."""
        said = {plain(text) for text in self.taking.told.words}
        grid = self.taking.layout.grid
        of_prices = [
            (row, text) for row, text in grid.price_notes if not heeding.kind(text) and not self._is_settled(text)
        ]
        for row, text in (*grid.notes, *of_prices):
            about = heeding.kind(text) or ("money" if (row, text) in of_prices else "")
            if about and plain(text) not in said and not (about == "tax" and self.taking.told.ex_tax):
                asking.ask(self.place.at(place_of(grid.sheet, row)), about, text)

    def _text_lines(self) -> None:
        """Lines that are no quotes: headings of sections, terms, sums."""
        asked: dict[str, tuple[Aside, str]] = {}
        for row in self.aside:
            followed = row.part or row.reason.startswith(("the headings again", "a line of text: "))
            for said, about in () if followed or row.named in self.unknown.alike else self._abouts(row):
                asked.setdefault(said, (row, about))
        taxed = {taxes.in_line(said) for said, (_, about) in asked.items() if about == "tax"}
        of_some, whose = {"with", "without"} <= taxed, self._supplier()
        as_written = {means: text for text, means in self.taking.told.words.items()}
        for said, (row, about) in islice(asked.items(), _MOST_LINES):
            told_before = self.taking.postage_said(said) is not None
            text, found = (as_written[said], row.says.partition(" | ")[2]) if told_before else (said, row.says)
            rate, at = self._rate(row) if about == "tax" else "", self.place.at(row.place)
            asking.ask(at, about, text, found=found, supplier=whose, rate=rate, of_some=of_some)
        if len(asked) > _MOST_LINES:
            found = f"{len(asked) - _MOST_LINES} more lines that speak of money"
            self.place.complain(
                "money", found=found, expected=asking.EXPECTED["money"], mend="settle those listed first"
            )

    def _unnamed_suppliers(self) -> None:
        """Lines by themselves that nothing is known of, with two prices for one thing below them: two suppliers."""
        asked: dict[Key, int] = {}
        of_text = [row for row in self.aside if row.kind is Why.TEXT and row.reason == "a line of text"]
        lines = [row for row in of_text if self._may_be_name(row.says)]
        firms = [row for row in lines if self._is_like_firm(row.says)]
        for row in self.rows:
            asked.setdefault(row.key, row.price_minor)
        twice = any(asked[row.key] != row.price_minor for row in self.rows)
        last = max((row.row for row in self.rows), default=0)
        for line in [row for row in (lines if twice else firms) if row.row < last][:_MOST_LINES]:
            name = BEHIND_NAME.split(line.says)[0]
            ways = [
                f"if it is a supplier, {typed('word', line.says, f'Supplier: {name}')}",
                f"if it is none, {typed('word', line.says, IGNORE)}",
            ]
            mend = "; ".join(ways if self.taking.suppliers.may_be_firm(name) else reversed(ways))
            expected = "whose offers stand below it"
            self.place.at(line.place).complain("supplier", found=shown(line.says), expected=expected, mend=mend)

    def _without_heading(self) -> None:
        """Rows with more cells than there are headings: a column without a heading, or amounts split at commas."""
        width = len(self.taking.layout.texts)
        numbers = {
            row.row for row in self.aside if row.kind is Why.SHAPE and not row.reason.startswith(("other", "it stands"))
        }
        line = next((line for line in self.taking.layout.grid.lines if line.number in numbers), None)
        if line is None or len(line.cells) <= width:
            return
        split = any(isinstance(cell, str) and cell.isdecimal() for cell in line.cells[width:])
        mend = "put quotation marks around amounts with a comma, or save the sheet with semicolons between its columns"
        if not split:
            ways = (as_mapped(f"column {letter(index)}", "note") for index in range(width, len(line.cells)))
            mend = f"say what stands there, of a remark: {' '.join(ways)}"
        found = shown(" | ".join(row_values.text(cell) for cell in line.cells[width:]))
        self._at(line).complain(
            "shape", found=f"{found} beyond the headings", expected="a heading above every column", mend=mend
        )

    def _may_be_name(self, text: str) -> bool:
        """Whether a line is no sentence, no remark in brackets, and speaks of nothing that is asked about anyway."""
        words = text.split()
        return (
            len(words) < _LONGEST_NAME
            and text[0].isalnum()
            and not text.endswith((".", ","))
            and not self._of_text(text)
        )

    def _is_like_firm(self, text: str) -> bool:
        return not self.taking.told.supplier and bool(set(plain(text).split()[1:]) & lexicon.headings().firm_words)

    def _abouts(self, row: Aside) -> list[tuple[str, str]]:
        """The texts of a line that are asked about, each with what it is about."""
        if row.kind is Why.TEXT:
            return self._of_text(row.says)
        about = self._about(row, row.named if row.kind is Why.PART and row.named else row.says)
        return [(row.named if row.kind is Why.PART and row.named else _first_text(row), about)] if about else []

    def _about(self, row: Aside, text: str) -> str:
        if row.kind is Why.TOTAL or self._is_of_money_alone(row):
            return self._of_sum(row.says)
        if row.kind is Why.PART and self.taking.layout.one("part") is None:
            return ""  # which column names the parts is asked
        if row.kind is Why.PART and not row.named:
            if prices.number_in(text) is not None:
                return self._of_sum(f" | {text}")
            speaks = any(heeding.kind(each) for each in text.split(" | ")) and not self.unknown.is_nameless(row)
            return "money" if speaks else ""
        about = heeding.kind(text)
        passed = row.kind is Why.SHAPE or (
            row.kind is Why.PART and about not in ("tax", "deposit", "discount", "postage")
        )
        return "" if passed or not about or self._is_settled(text) else about

    def _of_text(self, text: str) -> list[tuple[str, str]]:
        """What a line of text is about, in one piece or in those that commas of its own have parted."""
        if prices.number_in(text) is not None:
            about = self._of_sum(f" | {text}")
        else:
            about = "" if self._is_settled(text) else heeding.kind(text) or self._of_condition(text)
        parted = [each for each in text.split(" | ") if prices.number_in(each) is None]
        said_so = about == "condition" and any(map(self._is_settled, parted))
        if not about or " | " not in text or said_so or all(map(self._is_settled, parted)):
            return [(text, about)] if about and " | " not in text else []
        return [pair for each in parted for pair in self._of_text(each)] or [(parted[0], about)]

    def _is_price_of_one(self, text: str) -> bool:
        """Whether a line says that prices are for one piece, as every one of them is."""
        nothing = lexicon.headings().rows["every"] | lexicon.headings().tax["between"]
        said = (word for word in plain(text).split() if word not in nothing)
        what = meaning(" ".join(said), self.taking.money.currency)
        of_bands = all(v is not None and v.pieces and not v.whole for v in self.taking.variants)
        return what.column == "price_each" and (of_bands or set(self.packs.values()) == {1})

    def _is_of_money_alone(self, row: Aside) -> bool:
        """Whether a line of two cells holds a sum of money, and none where the prices stand."""
        _, *rest = row.says.split(" | ")
        is_sum = row.kind is Why.PART and len(rest) == 1 and prices.is_sum(rest[0])
        return is_sum and not self.unknown.is_priced(row)

    def _is_settled(self, text: str) -> bool:
        said = self.taking.postage_said(text) is not None or self.taking.deposit_said(text)
        if said or self.taking.discount_said(text) or self._is_price_of_one(text):
            return True
        money = self.taking.money
        if heeding.is_untaxed(text, used=all(row.condition != "new" for row in self.rows)):
            return money.tax != "without" and not money.of_heading()
        by_rate = bool(money.told.ex_tax) and heeding.kind(text) == "tax"
        by_rate = by_rate or (heeding.is_rate_alone(text) and (bool(money.rated) or money.of_heading() == "with"))
        by_rate = by_rate or plain(text) in map(plain, self.taking.layout.texts)  # it is asked about as a heading
        in_packs = self.taking.layout.one("pack") is not None and heeding.is_of_whole_packs(text)
        return by_rate or in_packs or self.taking.is_understood(text) or self._is_told_of_tax(text)

    def _is_told_of_tax(self, text: str) -> bool:
        """Whether a text about the tax is a person's word for one of theirs."""
        return text in self.taking.told.words.values() and bool(taxes.in_line(text))

    def _of_condition(self, text: str) -> str:
        """A line that names a condition, where rows name none."""
        unsaid = self.taking.condition_used or any(each.kind is Why.CONDITION for each in self.aside)
        named, _, why = row_values.condition(text, strong_only=True)
        return "condition" if unsaid and (named is not None or "at once" in why) else ""

    def _of_sum(self, text: str) -> str:
        """A total that is the sum of the prices times the quantities says nothing new; a charge always does."""
        decimal, first = self.taking.money.decimal, text.split(" | ", maxsplit=1)[0]
        if self._is_told_of_tax(first):
            return ""
        amounts = {value for each in text.split(" | ")[1:] if (value := prices.number_in(each, decimal)) is not None}
        amounts = amounts - {Decimal(1)} or amounts  # one delivery
        if not any(amounts):
            unread = any(has_amount(each) for each in text.split(" | ")[1:])
            return (heeding.kind(text) or "money") if unread or len(text.split(" | ")) == 1 else ""
        of_sums = {row.row for row in self.aside if row.kind is Why.TOTAL or prices.number_in(row.says) is not None}
        self.sums = self.sums or self.beside.foot(of_sums)
        said = self.taking.postage_said(first)
        if said is not None:
            self.sums.charges.append(said)
            return "" if amounts == {said} else "postage"
        new = [amount for amount in amounts if not self.sums.explain(amount)]
        about = heeding.kind(first)
        if about == "tax" and self.taking.told.ex_tax:
            return ""
        self.sums.charges += [-each if about == "discount" else each for each in new]
        return (about or "money") if new else ""

    def _rate(self, row: Aside) -> str:
        """The rate that the tax in a line of sums comes to, if it is one, or that such a sum has on top."""
        net = Decimal(0) if self.sums is None else self.sums.net
        amounts = [prices.number_in(each, self.taking.money.decimal) for each in row.says.split(" | ")[1:]]
        taxed = (tax for each in amounts if each is not None for tax in (each, each - net))
        return next(filter(None, (rate_of(tax, net) for tax in taxed)), "")

    # words

    def _supplier(self) -> str:
        """The one supplier of the sheet; empty where there are several."""
        named = {row.supplier for row in self.rows} or {self.taking.supplier}
        return named.pop() if len(named) == 1 else ""

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


def of_other_sheet(name: str, lines: Sequence[SheetLine], takings: Sequence[Taking], place: Place) -> None:
    """Note what a sheet without quotes says about money, as far as the others were not read by it."""
    texts = ((line, row_values.text(cell)) for line in lines for cell in line.cells if isinstance(cell, str))
    found = [
        (line, text, about)
        for line, text in texts
        if (about := heeding.kind(text)) and not any(taking.heeds_elsewhere(text, about) for taking in takings)
    ]
    for line, text, about in found[:_MOST_LINES]:
        asking.ask(place.at(place_of(name, line.number)), about, text)
    if len(found) > _MOST_LINES:
        place.at(f"sheet {name}").complain("money", found=f"{len(found) - _MOST_LINES} more texts that speak of money", expected=asking.EXPECTED["money"], mend="take the sheet out of the file if it has nothing to do with the prices")  # noqa: E501 # fmt: skip


def _first_text(row: Aside) -> str:
    return row.says.split(" | ")[0]
