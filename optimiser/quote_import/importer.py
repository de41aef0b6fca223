"""A supplier's sheet as it arrives, into quotes: nothing guessed about money, every row accounted for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from pathlib import Path

from optimiser import files
from optimiser.job_folder.opening import UnfitError
from optimiser.job_folder.problems import Complaints, Place, shown
from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import Aside, How, Known, TakenRow, Told, Understood
from optimiser.names import slug
from optimiser.quote_import import (
    by_cells,
    deposit_rows,
    general_condition,
    heeding,
    lexicon,
    likely,
    numbers,
    pinned_notes,
    plain_lines,
    plausible,
    postage,
    prices,
    remarks,
    row_price,
    row_values,
    side_by_side,
    taxes,
    telling,
    text_lines,
    typed_lists,
    unheeded,
    unheeded_lines,
    upright,
)
from optimiser.quote_import import columns as layout
from optimiser.quote_import.beside_prices import ProvenTax, proven_tax
from optimiser.quote_import.columns import ColumnLayout
from optimiser.quote_import.naming import Parts, Suppliers, is_label, is_of_trade, of_file_name
from optimiser.quote_import.plain_lines import Met, said_in_words
from optimiser.quote_import.remarks import Touched
from optimiser.quote_import.row_price import SheetMoney
from optimiser.quote_import.rows import Taking
from optimiser.quote_import.unknown_parts import near_names
from optimiser.sheet_files import files as opening_sheets
from optimiser.sheet_files.grid import Opened, SheetLine, cell_at, text_alone
from optimiser.sheet_files.grid import words as words_of
from optimiser.text import in_shell, typed

_EVERY = 5000
_LOOKED_AT = 500
Progress = Callable[[str], None]


def _quiet(_: str) -> None:
    """No progress shown."""


def understand(
    path: Path,
    known: Known,
    told: Told = Told(),  # noqa: B008 - frozen
    kept: Mapping[str, Told] | None = None,
    progress: Progress = _quiet,
) -> Understood:
    """What the file says, in the job's words. Nothing is written.

    ``told`` settles doubts of this sheet; ``kept`` holds, by supplier, what was settled on earlier ones (``kept.py``).
    Raises ``InputError`` where the file cannot be read at all or holds no headings; what is in doubt about money is in
    ``doubts`` of the answer.
    """
    told = telling.in_ids(told, known)
    complaints = Complaints()
    name = files.name_of(path)
    place = Place(complaints, shown(name or str(path))[1:-1])
    met: Met = {}
    try:
        opened = opening_sheets.sheets(path, place, typed_lists)
        parts = Parts(known, told)
        for place_in_file, grid in enumerate(opened.grids):
            opened.grids[place_in_file], done = upright.set_upright(grid, parts.is_named_in, typed_lists)
            opened.cautions += [done] if done else []
        opened.grids = [table for grid in opened.grids for table in side_by_side.parted(grid)]
        for grid in opened.grids:
            plain_lines.heed_struck(grid)
            grid.price_notes = plain_lines.of_prices(grid.lines)
            grid.lines = text_lines.parted(plain_lines.made_plain(grid.lines))
        _say(opened, {**known.own.words, **told.words}, met)
        shops = {grid.sheet: side_by_side.put_below_each_other(grid, known, told) for grid in opened.grids}
        sheets = _with_headings(opened, known, told.over(known.own), place)
    except UnfitError:
        raise complaints.error() from None
    reading = _Reading(name, opened, known, told, Complaints(), progress, met, shops)
    return reading.understood(sheets, kept or {})


def _say(opened: Opened, words: Mapping[str, str], met: Met) -> None:
    """Put the words that a person gave a meaning to into those that they stand for, and add those that were met."""
    for grid in opened.grids if words else ():
        before = {line.number: words_of(line.cells) for line in grid.lines}
        grid.lines, found = said_in_words(grid.lines, words)
        changed = (line.number for line in grid.lines if words_of(line.cells) != before[line.number])
        grid.as_written |= {number: before[number][0] for number in changed if len(before[number]) == 1}
        pinned = ((lexicon.plain(text), {number}) for number, text in grid.notes)
        for text, places in (*found.items(), *pinned):
            met[text] = met.get(text, set()) | places
        pinned_notes.in_words(grid, words)


def _with_headings(opened: Opened, known: Known, told: Told, place: Place) -> list[ColumnLayout]:
    """The sheets that hold quotes. Raises ``UnfitError`` where there is none."""
    found = [by_cells.laid_out(grid, known, told) for grid in opened.grids]
    sheets = [each for each in found if each is not None]
    whole = [each for each in sheets if (each.has("part") or each.is_lettered) and each.has("price")]
    chosen = whole or sheets[:1]
    for grid in opened.grids:
        if grid.lines and all(each.grid is not grid for each in chosen) and len(opened.grids) > 1:
            opened.remarks.append(f"the sheet {grid.sheet} has no headings of quotes and was left out")
    if not chosen:
        found_lines = next((grid.lines[0].cells for grid in opened.grids if grid.lines), ())
        place.complain(
            "",
            found=shown(", ".join(row_values.text(cell) for cell in found_lines[:12]))
            if found_lines
            else "an empty sheet",
            expected="a line of headings such as part, condition, price among the first forty",
            mend=_headings_told(opened, Parts(known, told)),
        )
        raise UnfitError
    for sheet in chosen:
        _must_have_columns(sheet, place)
    return chosen


def _headings_told(opened: Opened, parts: Parts) -> str:
    """How to say what headings mean of which none is known."""
    found = next((told for grid in opened.grids if (told := likely.columns(grid, parts.is_named_in))), {})
    if not found:
        return f"write the headings above the columns, or {opening_sheets.TYPE_IT}"
    return (
        f"say what theirs mean, as far as this is right: {' '.join(layout.as_mapped(*pair) for pair in found.items())}"
    )


def _must_have_columns(sheet: ColumnLayout, place: Place) -> None:
    """Raises ``UnfitError`` where parts and prices stand in sentences: nothing that is typed parts these."""
    line = sheet.grid.lines[sheet.last + 1] if sheet.is_lettered else SheetLine(0, (None,))
    in_sentence = (
        isinstance(line.cells[0], str) and prices.in_text(line.cells[0]) and not prices.is_amount(line.cells[0])
    )
    if not sheet.is_lettered or (len(sheet.texts) > 1 and (sheet.has("price") or not in_sentence)):
        return
    place.at(sheet.grid.place(line)).complain(
        "",
        found=shown(row_values.text(line.cells[0])),
        expected="parts and prices in columns, not in sentences",
        mend=opening_sheets.TYPE_IT,
    )
    raise UnfitError


@dataclass
class _Reading:
    """One file on its way."""

    file: str
    opened: Opened
    known: Known
    told: Told
    doubts: Complaints
    progress: Progress
    words_met: Met
    """Words of the sheet that a person gave a meaning to, and the lines in which they stand."""
    shops: Mapping[str, Sequence[str]]
    """By sheet the shops that stood side by side in it."""
    by_file: str = ""
    """The supplier, where nothing but the file's name says whose sheet it is."""
    as_above: dict[str, list[int]] = field(default_factory=dict)
    """By sheet the lines that were given the part of the line above."""
    or_by_line: str = ""
    """A name above the headings that may be the supplier's as well."""

    def understood(self, sheets: list[ColumnLayout], kept: Mapping[str, Told]) -> Understood:
        place = Place(self.doubts, shown(self.file)[1:-1])
        suppliers = Suppliers(self.known, self.told)
        supplier = self._of_whole_file(suppliers, sheets, place)
        whose = supplier or (self._first_supplier(suppliers, sheets) if kept else "")
        said, before = self.told, kept.get(whose, Told())
        self.told = self._fitting(said.over(before).over(self.known.own), sheets)
        if whose in kept:
            _say(self.opened, before.without(said).words, self.words_met)
            sheets = [by_cells.laid_out(each.grid, self.known, self.told) or each for each in sheets]
            suppliers = Suppliers(self.known, self.told)
            supplier = self._of_whole_file(suppliers, sheets, place)
        self.told = _sensible(self.told, self.known, place)
        for each in sheets:
            layout.settle(each, self._columns_of(each, sheets), place)
            _settle_tax(each, place)
            by_cells.settle(each, self.told)
        parts = Parts(self.known, self.told)
        parts.dictionary.heed_words([self.known.currency.code, *text_lines.and_headings(sheets)])
        for each in sheets:
            by_cells.find_parts(each, parts)
            self.as_above[each.grid.sheet] = plain_lines.write_out(each, self.told.words)
        decimal = self._decimal(sheets, place)
        for each in filter(by_cells.may_count_what_is_left, sheets):
            trial = self._taking(each, sheets, decimal, parts, suppliers, supplier, Place(Complaints(), ""))
            by_cells.take_for_stock_if_used(each, self._take([trial])[0])
        takings = [self._taking(each, sheets, decimal, parts, suppliers, supplier, place) for each in sheets]
        rows, aside = deposit_rows.given(takings, *self._take(takings))
        self._sheet_doubts(takings, rows, aside, place)
        to_pay = postage.told(takings, rows, place)
        error = self.doubts.error() if self.doubts.count else None
        own = self.known.own.without(said).without(before)
        used = self._used(takings, parts, suppliers).without(own)
        from_before = used.without(said)
        return Understood(
            file=self.file,
            headings=tuple(remarks.headings(sheets, from_before, own)),
            rows=tuple(rows),
            aside=tuple(aside),
            remarks=(*self.opened.remarks, *remarks.of_reading(sheets, decimal), *remarks.of_formulas(self.opened)),
            cautions=(
                *self.opened.cautions,
                *remarks.whose(self.by_file, whose, from_before, Touched(takings, rows, self.words_met)),
                *remarks.shops(self.shops),
                *remarks.as_above(self.as_above),
                *remarks.cautions(takings, rows, to_pay),
                *postage.unsaid(takings),
                *remarks.services(aside),
                *plausible.never_bought(rows, self.known),
            ),
            doubts=error.problems if error else (),
            more_doubts=error.left_out if error else 0,
            told=used,
            suppliers=tuple(sorted({row.supplier for row in rows} | ({supplier} if supplier else set()))),
            near=near_names(self.known, aside),
            by_file=self.by_file,
            postage=to_pay,
            free_over=postage.term(takings, rows, "free_over"),
            minimum_order=postage.term(takings, rows, "minimum_order"),
        )

    def _used(self, takings: Sequence[Taking], parts: Parts, suppliers: Suppliers) -> Told:
        """What was told, without what nothing in this file asked for: it need not hold for the next one."""
        met = self.words_met.keys() | {word for each in takings for word in each.words_used}
        return replace(
            self.told,
            ex_tax=self.told.ex_tax if any(each.money.rated for each in takings) else "",
            condition=self.told.condition if any(each.condition_used for each in takings) else None,
            parts=parts.names.met(self.told.parts),
            words={text: meaning for text, meaning in self.told.words.items() if lexicon.plain(text) in met},
            suppliers=suppliers.met(self.told.suppliers),
        )

    def _of_whole_file(self, suppliers: Suppliers, sheets: Sequence[ColumnLayout], place: Place) -> str:
        """The supplier told; else, where no column names any, the one named above the headings or by the file."""
        if self.told.supplier:
            try:
                return suppliers.find(self.told.supplier)
            except row_price.SetAsideError as error:
                mend = "write the supplier's id or title"
                place.complain("supplier", found=error.reason, expected="a name with letters in it", mend=mend)
                return ""
        above = [text for each in sheets for text in _above(each, suppliers)]
        first = min((each.number for each in sheets), default=0)
        above += [text for each in sheets for number, text in each.grid.as_written.items() if number < first]
        by_name = of_file_name(self.file)
        if all(each.has("supplier") for each in sheets):
            if Suppliers(self.known, self.told).letterhead(above, by_name):
                self._ask_whose_cells_are(sheets, place)
            return ""
        signed = [text_alone(line) for each in sheets for line in each.rows]
        by_line = suppliers.letterhead(above, by_name) or suppliers.signed_by(signed)
        if by_name and any(lexicon.plain(text) == by_name for text in signed):
            by_line = suppliers.find(by_name)
        if by_line or not by_name:
            return by_line
        listed = suppliers.is_listed(by_name)
        if listed is None and above and is_of_trade(by_name):
            return ""
        self.by_file = listed.id if listed is not None else suppliers.find(by_name)
        if listed is None and (name := suppliers.strange_name(above, by_name)):
            self.or_by_line = name
        return self.by_file

    def _of_sheet(self, sheet: ColumnLayout, suppliers: Suppliers, whole: str, *, several: bool) -> str:
        """The supplier of one sheet among several: as its own letterhead has it, or its name; else that of the file."""
        if self.told.supplier or not several or sheet.has("supplier"):
            return whole
        above = _above(sheet, suppliers)
        name = sheet.grid.sheet
        if own := suppliers.letterhead(above, of_file_name(self.file)):
            return own
        named = suppliers.is_listed(name) is not None or (whole == self.by_file and suppliers.is_firm(name))
        return suppliers.find(name) if named else whole

    def _ask_whose_cells_are(self, sheets: Sequence[ColumnLayout], place: Place) -> None:
        """Names of firms under a heading of a person's own, below the name of another firm."""
        for sheet in sheets:
            for index in sheet.of("supplier"):
                if sheet.meanings[index].how is How.CELLS:
                    text = sheet.texts[index]
                    mend = f"say which: {layout.as_mapped(text, 'supplier')} or {layout.as_mapped(text, IGNORE)}"
                    expected = "whether it says whose offers they are"
                    place.at(sheet.place).complain("supplier", found=shown(text), expected=expected, mend=mend)

    def _first_supplier(self, suppliers: Suppliers, sheets: Sequence[ColumnLayout]) -> str:
        """The one supplier that a column names, where it is on the job's list; empty where it names several."""
        columns = ((each, index) for each in sheets for index in each.of("supplier"))
        named = {row_values.text_at(line.cells, index) for each, index in columns for line in each.rows} - {""}
        found = {match.id for name in list(named)[:_LOOKED_AT] if (match := suppliers.is_listed(name)) is not None}
        return found.pop() if len(found) == 1 else ""

    def _fitting(self, told: Told, sheets: Sequence[ColumnLayout]) -> Told:
        """What was kept holds only for headings that this sheet has too."""
        present = {lexicon.plain(text) for each in sheets for text in each.texts}
        columns = {
            heading: column
            for heading, column in told.columns.items()
            if heading in self.told.columns or lexicon.plain(heading) in present
        }
        return replace(told, columns=columns)

    def _shops(self, taking: Taking, at: Place) -> None:
        """Shops side by side that neither the job's list nor a person names are asked about, all at once."""
        names = [name for name in self.shops[taking.layout.grid.sheet] if taking.suppliers.is_listed(name) is None]
        if names:
            shops = " ".join(typed("supplier", name, slug(name)) for name in names)
            mend = f"if they are shops, {shops}; if one of them is the price, {layout.as_mapped(names[0], 'price')}"
            found = ", ".join(map(shown, names))
            at.complain("supplier", found=f"{found} above the prices", expected="whose prices they are", mend=mend)

    def _columns_of(self, sheet: ColumnLayout, sheets: Sequence[ColumnLayout]) -> Mapping[str, str]:
        """What was told of this sheet's headings; of several sheets, one must have the heading, not each."""
        if len(sheets) == 1:
            return self.told.columns
        own = {lexicon.plain(text) for text in sheet.texts}
        others = {lexicon.plain(text) for each in sheets if each is not sheet for text in each.texts}
        return {
            heading: column
            for heading, column in self.told.columns.items()
            if lexicon.plain(heading) in own or (lexicon.plain(heading) not in others and sheet is sheets[0])
        }

    def _decimal(self, sheets: Sequence[ColumnLayout], place: Place) -> str:
        """The sign before the decimals, by all amounts of the file; by its lines of text where those leave it open."""
        told_by, needed = numbers.told_by(amount for each in sheets for amount in row_price.amounts(each))
        if self.told.decimal:
            if told_by not in ("", self.told.decimal):
                other = "," if self.told.decimal == "." else "."
                found, expected = (
                    f"amounts with {shown(other)} before the decimals",
                    f"{shown(self.told.decimal)}, as was told",
                )
                place.complain(
                    "price", found=found, expected=expected, mend="say the other sign, or leave --decimal out"
                )
            return self.told.decimal
        if needed and not told_by:
            lines = (cell for each in self.opened.grids for line in each.lines for cell in line.cells)
            told_by, _ = numbers.told_by(
                read for cell in lines if isinstance(cell, str) for read in prices.in_text(cell)
            )
        return "" if told_by == "both" else told_by

    def _taking(
        self,
        sheet: ColumnLayout,
        sheets: Sequence[ColumnLayout],
        decimal: str,
        parts: Parts,
        suppliers: Suppliers,
        supplier: str,
        place: Place,
    ) -> Taking:
        elsewhere = self._lines_elsewhere(sheets)
        mark, rate, followed = text_lines.in_lines(sheet, elsewhere)
        followed |= text_lines.in_small_coin(sheet, self.known.currency) | text_lines.of_deposits(sheet)
        sections = {} if mark else text_lines.by_sections(sheet)
        rate = rate or text_lines.rate_alone(sheet, (text for text, _ in sections.values()))
        proven = ProvenTax() if sections else proven_tax(sheet, self.told, decimal)
        if proven.mark and mark in ("", proven.mark):
            mark, rate = proven.mark, proven.rate or rate
        if self.told.ex_tax:
            mark, rate = mark or "without", numbers.percent(f"{self.told.ex_tax.strip().rstrip('%')}%")
        money = SheetMoney(sheet, self.known.currency, self.told, place, decimal, mark, rate)
        money.sections = {number: said for number, (_, said) in sections.items()}
        followed |= {text for text, _ in sections.values()}
        index = sheet.one("valid_until")
        cells = [] if index is None else [line.cells[index] for line in sheet.grid.lines if index < len(line.cells)]
        whose = self._of_sheet(sheet, suppliers, supplier, several=len(sheets) > 1)
        taking = Taking(sheet, money, parts, suppliers, self.told, whose, row_values.dates(cells))
        taking.elsewhere, taking.proven_sums = elsewhere, proven.amounts if mark == proven.mark else ()
        texts = [cell for line in text_lines.of_text(sheet) for cell in line.cells]
        taking.deposit_of_all = next(filter(None, map(taking.deposit_said, texts)), "")
        money.off = next(filter(None, map(taking.discount_said, texts)), Decimal(0))
        taking.valid_until, dated = text_lines.last_day([*sheet.grid.lines, *elsewhere], self.known.currency)
        taking.understood |= followed | dated
        above = [line for line in sheet.grid.lines[: sheet.first] if suppliers.by_line not in line.cells]
        goods = general_condition.words_of_every_part(sheet)
        foot = general_condition.foot_of_all(sheet.rows, goods)
        taking.of_the_rest, unless = general_condition.unless([*text_lines.of_text(sheet), *elsewhere])
        said_of_all = [line for line in (*above, *foot) if unless.isdisjoint(map(row_values.text, line.cells))]
        taking.of_all, said = general_condition.of_all(said_of_all, goods)
        taking.of_all = taking.of_all or general_condition.of_heading(sheet) or general_condition.of_tab(sheet)
        taking.understood |= said | unless
        return taking

    def _lines_elsewhere(self, sheets: Sequence[ColumnLayout]) -> list[SheetLine]:
        """The lines of those sheets of the file that hold no quotes: terms, and whose list it is."""
        read = {each.grid.sheet for each in sheets}
        return [line for grid in self.opened.grids if grid.sheet not in read for line in grid.lines]

    def _take(self, takings: Sequence[Taking]) -> tuple[list[TakenRow], list[Aside]]:
        rows: list[TakenRow] = []
        aside: list[Aside] = []
        total = sum(len(each.layout.grid.lines) for each in takings)
        for taking in takings:
            for row in taking.rows():
                if isinstance(row, Aside):
                    aside.append(row)
                else:
                    rows.append(row)
                if (len(rows) + len(aside)) % _EVERY == 0:
                    self.progress(f"{len(rows) + len(aside)} of {total} rows")
        return rows, aside

    def _sheet_doubts(
        self, takings: Sequence[Taking], rows: Sequence[TakenRow], aside: Sequence[Aside], place: Place
    ) -> None:
        """What no row can be taken without."""
        for taking in takings:
            at = place.at(taking.layout.place)
            names = remarks.headings_of(taking.layout)
            text_lines.beyond(taking.layout.grid, taking.is_understood, place)
            taking.understood |= text_lines.doubts(taking.layout, self.told, self.known.currency, place)
            if taking.other_headings:
                found, expected = f"other headings in row {taking.other_headings}", "one line of headings in a sheet"
                at.complain("", found=found, expected=expected, mend="put what stands below it into a sheet of its own")
            if taking.layout.one("part") is None and taking.layout.one("ref") is None:
                mend = f"say which it is: {layout.as_mapped(layout.with_names(taking.layout), 'part')}"
                at.complain("part", found="no such column", expected=f"a column with the part among {names}", mend=mend)
            self._shops(taking, at)
        if self.or_by_line and any(row.supplier == self.by_file for row in rows):
            ways = " or ".join(f"--supplier {in_shell(name)}" for name in (slug(self.or_by_line), self.by_file))
            expected = f"whose sheet it is: theirs, or that of {self.by_file}, as the file is called"
            place.complain("supplier", found=shown(self.or_by_line), expected=expected, mend=f"say which: {ways}")
        unheeded.doubts(takings, rows, aside, place)
        plausible.doubts(takings, rows, self.known, place)
        read = {taking.layout.grid.sheet for taking in takings}
        for grid in self.opened.grids:
            if len(self.opened.grids) > 1 and grid.sheet not in read:
                unheeded_lines.of_other_sheet(grid.sheet, grid.lines, takings, place)
        kinds = {each.kind for each in aside}
        if not rows and "supplier" in kinds and not self.told.supplier:
            expected = "a column with it, or one supplier for the whole sheet"
            above = (text for each in takings for text in _above(each.layout, each.suppliers))
            name = takings[0].suppliers.likeliest(above)
            mend = f"say whose sheet it is, with their name: --supplier {in_shell(slug(name) or 'THEIR-NAME')}"
            place.complain("supplier", found="no supplier", expected=expected, mend=mend)
        without = all(taking.layout.one("condition") is None for taking in takings)
        if not rows and "condition" in kinds and without and not place.complaints.are_about("condition"):
            expected = "a column with it, or one condition for the whole sheet"
            first, *others = text_lines.conditions_by_likeness(each.layout for each in takings)
            mend = f"say what all of it is: --condition {first} (or {', '.join(others)}); or write it beside each part"
            place.complain("condition", found="no condition", expected=expected, mend=mend)


def _above(sheet: ColumnLayout, suppliers: Suppliers) -> list[str]:
    """The texts above the headings, without lines with the names of two firms."""
    cells = [words_of(line.cells) for line in sheet.grid.lines[: sheet.first]]
    return [text for line in cells if not suppliers.are_several(line) for text in _as_said(line)]


def _as_said(texts: Sequence[str]) -> list[str]:
    """The texts of a line; a label in a cell of its own has its colon, and a number of a page is none."""
    said = [text for text in texts if not heeding.is_page(text)]
    label = len(said) > 1 and is_label(said[0])
    return [f"{said[0].rstrip(': ')}: {said[1]}"] if label else said


def _sensible(told: Told, known: Known, place: Place) -> Told:
    """What was told, without what makes no sense, which is noted."""
    if told.decimal not in ("", ".", ","):
        place.complain(
            "decimal", found=shown(told.decimal), expected='"." or ","', mend='say --decimal "." or --decimal ","'
        )
        told = replace(told, decimal="")
    rate = numbers.percent(f"{told.ex_tax.strip().rstrip('%')}%") if told.ex_tax else Decimal(0)
    if rate is None or 0 < rate < 1:
        mend = "for twenty percent say --ex-tax 20"
        place.complain("ex_tax", found=shown(told.ex_tax), expected="a percentage: 0, or from 1 to 100", mend=mend)
        told = replace(told, ex_tax="")
    for name, part in told.parts.items():
        if part not in known.parts:
            close = ", ".join(Parts(known, Told()).names.nearest(part))
            mend = f"did you mean one of {close}?" if close else "write the id of a part"
            place.complain("part", found=f"{shown(part)} for {shown(name)}", expected="a part of the job", mend=mend)
    return replace(told, parts={name: part for name, part in told.parts.items() if part in known.parts})


def _settle_tax(sheet: ColumnLayout, place: Place) -> None:
    """A column that is only called "VAT" is a rate, an amount, or a word for each row: its cells tell."""
    index = sheet.one("tax")
    if index is None or len(sheet.at["tax"]) > 1:
        return
    if sheet.prices and all(sheet.meanings[price].tax == "with" for price in sheet.prices):
        sheet.left_out[index] = "the tax is in the price"
        del sheet.at["tax"]
        return
    lines = sheet.grid.lines[sheet.last + 1 : sheet.last + 1 + _LOOKED_AT]
    beside = sheet.one("price")
    cells = [(cell_at(line.cells, index), None if beside is None else cell_at(line.cells, beside)) for line in lines]
    if all(cell is None for cell, _ in cells):
        sheet.left_out[index] = "it is empty"
        del sheet.at["tax"]
        return
    column = row_price.rate_or_amount(cells)
    if column == "tax_said" and all(
        row_values.text(cell).casefold() in taxes.YES_OR_NO for cell, _ in cells if cell is not None
    ):
        _ask_yes(sheet, index, place)
        return
    if column and column not in sheet.at:
        sheet.meanings[index] = replace(sheet.meanings[index], column=column)
        sheet.at[column] = sheet.at.pop("tax")
        return
    text = shown(sheet.texts[index])
    figures = any(sign.isdigit() for cell, _ in cells for sign in row_values.text(cell))
    means = ("tax_rate", "tax_amount", "ignore") if figures else ("tax_said", "ignore")
    ways = [layout.as_mapped(sheet.texts[index], column) for column in means]
    mend = f"say which: {' or '.join(ways)}"
    expected = "a rate in percent or an amount, and its cells tell neither"
    place.at(sheet.place).complain("tax", found=text, expected=expected, mend=mend)


def _ask_yes(sheet: ColumnLayout, index: int, place: Place) -> None:
    """Yes may say that the tax is in the price, or that it comes on top."""
    text = sheet.texts[index]
    ways = f"yes: it is in the price, {layout.as_mapped(text, 'tax_said')}"
    ways += f"; it is in all prices, {layout.as_mapped(text, 'ignore')}"
    expected = "whether yes means that the tax is in the price or comes on top"
    mend = f"say which: {ways}; it comes on top of those with yes, write their prices with it into the sheet"
    place.at(sheet.place).complain("tax", found=shown(text), expected=expected, mend=mend)
