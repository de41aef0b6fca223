"""Lines that are no quotes, and speak of money: headings of sections, terms, sums at the foot, notes pinned to cells.

None is passed over in silence: it is settled by what was read of the sheet, or asked about.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import islice

from optimiser.job_folder.problems import Place, shown
from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import Aside, Key, TakenRow, Why, place_of
from optimiser.quote_import import asking, heeding, lexicon, prices, row_values, taxes
from optimiser.quote_import.beside_prices import BesidePrices, FootSums, has_amount, rate_of
from optimiser.quote_import.columns import as_mapped, letter
from optimiser.quote_import.headings import is_price_of_pack
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.naming import BEHIND_NAME
from optimiser.quote_import.rows import Taking
from optimiser.quote_import.unknown_parts import UnknownParts
from optimiser.sheet_files.grid import SheetLine
from optimiser.text import typed

_MOST_LINES = 12
_LONGEST_NAME = 8
"""Words of a line that is a name and nothing else."""


@dataclass
class UnheededLines:
    """One sheet, with the lines that became quotes or were about a part of the job."""

    taking: Taking
    rows: Sequence[TakenRow]
    aside: Sequence[Aside]
    place: Place
    beside: BesidePrices
    unknown: UnknownParts
    sums: FootSums | None = None
    """What the lines of sums are held against, once it is wanted."""

    def pinned(self) -> None:
        """Notes pinned to cells above the rows, and footnotes to prices."""
        said = {plain(text) for text in self.taking.told.words}
        grid = self.taking.layout.grid
        of_prices = [
            (row, text) for row, text in grid.price_notes if not heeding.kind(text) and not self._is_settled(text)
        ]
        for row, text in (*grid.notes, *of_prices):
            about = heeding.kind(text) or ("money" if (row, text) in of_prices else "")
            if about and plain(text) not in said and not (about == "tax" and self.taking.told.ex_tax):
                asking.ask(self.place.at(place_of(grid.sheet, row)), about, text)

    def text_lines(self) -> None:
        """Lines that are no quotes: headings of sections, terms, sums."""
        asked: dict[str, tuple[Aside, str]] = {}
        for row in self.aside:
            flagged = row.row in self.taking.layout.grid.flags  # hidden or struck through, and asked about as a row
            followed = row.part or flagged or row.reason.startswith(("the headings again", "a line of text: "))
            for said, about in () if followed or row.named in self.unknown.alike else self._abouts(row):
                asked.setdefault(said, (row, about))
        marks = {taxes.in_line(said) for said, (_, about) in asked.items() if about == "tax"}
        of_some, whose = {"with", "without"} <= marks, self.supplier()
        as_written = {means: text for text, means in self.taking.told.words.items()}
        for said, (row, about) in islice(asked.items(), _MOST_LINES):
            told_before = self.taking.postage_said(said) is not None
            text, found = (as_written[said], row.says.partition(" | ")[2]) if told_before else (said, row.says)
            rate, at = self._rate(row) if about == "tax" else "", self.place.at(row.place)
            taxed = None if taxes.in_line(row.says) else self.taking.money.with_tax
            offer = row.kind is Why.TEXT and bool(prices.in_text(text)) and self.taking.parts.is_named_in(text)
            if offer and self._puts_right(text):
                asking.ask_by_hand(at, text)
                continue
            gone = self._name_of_quote(text) if about == "sale" else ""
            asking.ask(
                at, about, text, found=found, supplier=whose, taxed=taxed, rate=rate, of_some=of_some, names_part=offer,
                gone=gone,
            )  # fmt: skip
        if len(asked) > _MOST_LINES:
            found = f"{len(asked) - _MOST_LINES} more lines that speak of money"
            self.place.complain(
                "money", found=found, expected=asking.EXPECTED["money"], mend="settle those listed first"
            )

    def _name_of_quote(self, text: str) -> str:
        """The name, as its row has it, of the one quote for the part that a text names; empty where there is none."""
        part, index = self.taking.parts.names.named_in(text), self.taking.layout.one("part")
        of_part = {number for name, number in self._of_parts if name == part}
        lines = [line for line in self.taking.layout.rows if line.number in of_part] if index is not None else []
        return row_values.text_at(lines[0].cells, index) if index is not None and len(lines) == 1 else ""

    @property
    def _of_parts(self) -> list[tuple[str, int]]:
        """The parts of rows, be they such as cannot be taken yet, with the numbers of these."""
        taken = [(row.part, row.row) for row in self.rows]
        return taken + [(row.part, row.row) for row in self.aside if row.part]

    def _puts_right(self, text: str) -> bool:
        """Whether a sentence that names a part speaks of its price and of another: "it is £45, not £54"."""
        part = self.taking.parts.names.named_in(text)
        if not lexicon.headings().heeded["corrects"].isdisjoint(plain(text).split()):
            return any(name == part for name, _ in self._of_parts)
        told = {prices.minor_within(each, self.taking.money.currency) for each in asking.amounts_in(text)}
        return len(told) > 1 and any(row.part == part and row.price_minor in told for row in self.rows)

    def unnamed_suppliers(self) -> None:
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

    def without_heading(self) -> None:
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
        return [(row.named if row.kind is Why.PART and row.named else first_text(row), about)] if about else []

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
        return [pair for each in parted for pair in self._of_text(each)] or (
            [] if any(map(self._is_settled, parted)) else [(parted[0], about)]
        )

    def _is_price_of_one(self, text: str) -> bool:
        """Whether a line says that prices are for one piece, as every one of them is."""
        of_bands = all(v is not None and v.pieces and not v.whole for v in self.taking.variants)
        return heeding.is_price_of_one(text) and (of_bands or set(self.beside.packs.values()) == {1})

    def _is_of_money_alone(self, row: Aside) -> bool:
        """Whether a line of two cells holds a sum of money, and none where the prices stand."""
        _, *rest = row.says.split(" | ")
        is_sum = row.kind is Why.PART and len(rest) == 1 and prices.is_sum(rest[0])
        return is_sum and not self.unknown.is_priced(row)

    def _is_settled(self, text: str) -> bool:
        said = self.taking.sets_terms(text) or self.taking.deposit_said(text)
        if said or self.taking.discount_said(text) or self._is_price_of_one(text):
            return True
        money = self.taking.money
        if heeding.is_untaxed(text, used=all(row.condition != "new" for row in self.rows)):
            return money.tax != "without" and not money.of_heading()
        if heeding.is_for_trade(text) and (money.tax or money.sections or money.of_heading() or money.has_tax_column()):
            return True
        by_rate = bool(money.told.ex_tax) and heeding.kind(text) == "tax"
        by_rate = by_rate or (heeding.is_rate_alone(text) and (bool(money.rated) or money.of_heading() == "with"))
        by_rate = by_rate or plain(text) in map(plain, self.taking.layout.texts)  # it is asked about as a heading
        layout = self.taking.layout
        of_packs = layout.one("pack") is not None and heeding.kind(text) == "pack"
        per_pack = is_price_of_pack(text, money.currency) and {layout.meanings[i].column for i in layout.prices} == {
            "price"
        }
        singly = heeding.is_sold_singly(text) and any(layout.meanings[i].sold_singly for i in layout.prices)
        in_packs = (singly and heeding.kind(text) == "pack") or (
            of_packs and (per_pack or heeding.is_of_packs_alone(text))
        )
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
        decimal, first = self.taking.money.decimal, _label(text)
        if self._is_told_of_tax(first):
            return ""
        behind = text.split(" | ")
        behind.remove(first)
        amounts = {value for each in behind if (value := prices.number_in(each, decimal)) is not None}
        amounts = amounts - {Decimal(1)} or amounts  # one delivery
        if not any(amounts):
            return (heeding.kind(text) or "money") if any(map(has_amount, behind)) or not behind else ""
        amounts |= {value for each in prices.in_text(first) if (value := each.under(decimal)) is not None}
        of_sums = {
            row.row
            for row in self.aside
            if row.kind is Why.TOTAL or prices.number_in(row.says) is not None or self._is_of_money_alone(row)
        }
        self.sums = self.sums or self.beside.foot(of_sums)
        said = self.taking.postage_said(first)
        if said is not None:
            meant = [each for each in amounts if said in (each, self.taking.money.with_tax(each))]
            self.sums.charges += meant or [said]
            return "" if len(amounts) == len(meant) == 1 else "postage"
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

    def supplier(self) -> str:
        """The one supplier of the sheet; empty where there are several."""
        named = {row.supplier for row in self.rows} or {self.taking.supplier}
        return named.pop() if len(named) == 1 else ""

    def _at(self, line: SheetLine) -> Place:
        return self.place.at(self.taking.layout.grid.place(line))


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


def first_text(row: Aside) -> str:
    """The first cell of a line that is no amount."""
    return _label(row.says)


def _label(text: str) -> str:
    """The first of several texts that is no amount, if any is none."""
    said = text.split(" | ")
    return next((each for each in said if not prices.is_amount(each)), said[0])
