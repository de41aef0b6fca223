"""Where a sheet's headings stand, and which column of the sheet is which column of a quote."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from optimiser.job_folder.problems import Place, listed, nearest, shown
from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import Heading, How, place_of
from optimiser.money import Currency
from optimiser.quote_import import headings, lexicon, likely, pieces, prices, row_values, taxes
from optimiser.quote_import.headings import COLUMNS, MONEY, PRICES, Meaning, meaning, said_besides
from optimiser.quote_import.lexicon import plain
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import Cells, Grid, SheetLine, Value, cell_at, spread
from optimiser.text import typed

LETTERED = re.compile(r"column ([a-z])", re.IGNORECASE)
"""How a person speaks of a column without a heading."""
_LOOKED_AT = 40
"""Lines from the top among which the headings are sought."""
ENOUGH = 2.0
_NAMED = 0.8
"""How much more a line of headings that names parts is one beside prices with work in them, or what a person said."""
_FEW = 4
_FIGURES_OF_CODE = 3
"""Figures of the shortest code; a number of so many may count pieces as well."""
_MOST_WORDS = 5
"""Of a heading that ends with a full stop."""
_SEVERAL = ("part", "note")
"""Columns that may stand more than once: tried in turn, or joined."""
_WITH_UNITS = (*PRICES, "deposit", "lead_days", "warranty_months")
"""Columns of which a unit below the heading tells how much a figure is."""
_NO_UNITS = ("part", "condition", "supplier", "note", "ref")
"""Columns of words: what stands below these headings is no unit."""
_ORDER = {How.TOLD: 0, How.EXACT: 1, How.SYNONYM: 2, How.CLOSE: 3}


@dataclass
class ColumnLayout:
    """The headings of one sheet. ``at`` holds the places of each column, from 0, best first."""

    grid: Grid
    first: int
    last: int
    """Indexes of the lines that hold the headings."""
    texts: list[str]
    meanings: list[Meaning]
    at: dict[str, list[int]] = field(default_factory=dict)
    left_out: dict[int, str] = field(default_factory=dict)
    prices: list[int] = field(default_factory=list)
    """The columns that a price is taken from: one, or one for each condition, side or number of pieces."""

    @property
    def number(self) -> int:
        """The number of the line with the headings."""
        return self.grid.lines[self.last].number

    @property
    def rows(self) -> list[SheetLine]:
        """The lines below the headings."""
        return self.grid.lines[self.last + 1 :]

    def below(self, index: int) -> list[Value]:
        """The first cells of a column that are not empty."""
        return likely.below(self.rows, index)

    def of(self, *columns: str) -> list[int]:
        """The places of the headings that mean any of these columns."""
        return [index for index, each in enumerate(self.meanings) if each.column in columns]

    def of_kind(self, kind: str) -> list[int]:
        """The places of the headings of a kind that is no column of a quote."""
        return [index for index, each in enumerate(self.meanings) if each.kind == kind]

    @property
    def retail(self) -> list[int]:
        """The places of what everybody pays, beside the price that was taken."""
        said = lexicon.headings().prices["retail"]
        beside = self.of_kind("references") if self.prices else []
        return [index for index in beside if said.intersection(plain(self.texts[index]).split())]

    def ordered(self, cells: Cells) -> Decimal:
        """How many pieces are ordered in a line; one where none is said."""
        counts = (prices.number_in(cell_at(cells, index)) for index in self.of_kind("quantities"))
        return next((each for each in counts if each), Decimal(1))

    def amount(self, cells: Cells, index: int, decimal: str) -> Decimal | None:
        """The amount in a cell, for one piece where it is that of a whole line; None where there is none."""
        read = prices.number_in(cell_at(cells, index), decimal)
        of_line = index < len(self.meanings) and self.meanings[index].of_line
        return read / self.ordered(cells) if of_line and read is not None else read

    @property
    def place(self) -> str:
        """The place of the headings in words."""
        return place_of(self.grid.sheet, self.number)

    @property
    def is_lettered(self) -> bool:
        """Whether the sheet has no headings, and its columns are called by their letters."""
        return self.texts[:1] == ["column A"]

    @property
    def is_of_order(self) -> bool:
        """Whether a line above the headings says that it is an order, or was one."""
        above = (cell for line in self.grid.lines[: self.first] for cell in line.cells if isinstance(cell, str))
        of_orders = lexicon.headings().suppliers["of_orders"]
        return any(not of_orders.isdisjoint(plain(text).split()) for text in above)

    def one(self, column: str) -> int | None:
        """The place of a column that stands once."""
        places = self.at.get(column)
        return places[0] if places else None

    def has(self, column: str) -> bool:
        """Whether a heading means this column; any of those for a price, of them."""
        wanted = PRICES if column == "price" else (column,)
        return any(each.column in wanted for each in self.meanings)

    def headings(self) -> Iterator[Heading]:
        """Every heading and what became of it."""
        chosen = {place: column for column, places in self.at.items() for place in places}
        chosen |= dict.fromkeys(self.prices, "price")
        for place, text in enumerate(self.texts):
            if not text:
                continue
            what = self.meanings[place]
            column = chosen.get(place, "")
            why = (
                ""
                if column
                else self.left_out.get(place) or ("holds nothing a quote needs" if what.column else "not known")
            )
            yield Heading(text, self.place, column, what.how if column else None, what.likeness, why)


def score(cells: Cells) -> float:
    """How much a line looks like headings, in any currency: what finds the sign between columns."""
    currency = Currency.of("XXX")
    if _is_sentence(cells):
        return 0.0
    found = {meaning(cell, currency).column: meaning(cell, currency).weight for cell in cells if isinstance(cell, str)}
    return sum(weight for column, weight in found.items() if column)


def find(grid: Grid, currency: Currency, told: Mapping[str, str]) -> ColumnLayout | None:
    """The headings: the line, or the two lines together, that most of them are in, of two the one of fewer words."""
    told_plain = {key(heading): column for heading, column in told.items()}
    best: tuple[tuple[float, int], ColumnLayout] | None = None
    for index, line in enumerate(grid.lines[:_LOOKED_AT]):
        for first in (index, index - 1):
            if first < 0 or (first < index and line.number - grid.lines[first].number != 1):
                continue
            layout = _read(grid, first, index, currency, told_plain)
            weight = _weight(layout) - (0.6 if first < index else 0)
            likeness = (weight, -sum(len(text.split()) for text in layout.texts))
            if weight >= ENOUGH and not _is_sentence(line.cells) and (best is None or likeness > best[0]):
                best = (likeness, layout)
    return _with_units(best[1], currency, told_plain) if best else None


def _is_sentence(cells: Cells) -> bool:
    """Whether a cell is the end of a sentence, and no heading: "and your discount is off these prices."."""
    said = (cell.split() for cell in cells if isinstance(cell, str))
    return any(len(words) > _MOST_WORDS and words[-1].endswith(".") for words in said)


def _with_units(layout: ColumnLayout, currency: Currency, told: Mapping[str, str]) -> ColumnLayout:
    """The headings with a line of units right below them: "pence" below "Price", "weeks" below "Lead time"."""
    line = next(iter(layout.grid.lines[layout.last + 1 : layout.last + 2]), None)
    if line is None or line.number != layout.number + 1 or len(line.cells) > len(layout.texts):
        return layout
    meanings, of_units = list(layout.meanings), False
    for index, unit in enumerate(line.cells):
        own = meanings[index]
        if unit is None:
            continue
        if own.column in _NO_UNITS or not isinstance(unit, str) or prices.is_amount(unit):
            return layout
        whole = f"{layout.texts[index]} {unit}"
        as_told = {key(whole): own.column} if own.how is How.TOLD else {}
        both = _meaning(whole, currency, {**told, **as_told})
        if own.column in _WITH_UNITS and not (both.column == own.column or {both.column, own.column} <= {*PRICES}):
            return layout
        if own.column in _WITH_UNITS or own.column == both.column == "stock":
            meanings[index], of_units = both, True
    return replace(layout, last=layout.last + 1, meanings=meanings) if of_units else layout


def at_line(grid: Grid, index: int, currency: Currency, told: Mapping[str, str]) -> ColumnLayout:
    """A line as that of the headings, whatever stands in it."""
    return _read(grid, index, index, currency, {key(heading): column for heading, column in told.items()})


def _weight(layout: ColumnLayout) -> float:
    found: dict[str, float] = {}
    for each in layout.meanings:
        column = "price" if each.column in PRICES else each.column
        if column:
            key = f"{column} {each.tax}" if column == "price" else column
            found[key] = max(found.get(key, 0.0), each.weight)
    of_goods = layout.has("part") and any(each.kind == "fitted" or each.how is How.TOLD for each in layout.meanings)
    found["goods"] = _NAMED if of_goods else 0.0
    several = {each.variant for each in layout.meanings if each.variant is not None}
    of_prices = [plain(text) for text, each in zip(layout.texts, layout.meanings, strict=True) if each.column in PRICES]
    told_apart_above = len(of_prices) - len(set(of_prices))
    return sum(found.values()) + max(0, len(several) - 1) / 2 - told_apart_above


def _read(grid: Grid, first: int, last: int, currency: Currency, told: Mapping[str, str]) -> ColumnLayout:
    texts = _numbered(_texts(grid, grid.lines[first], grid.lines[last] if last > first else None), told)
    meanings = [_meaning(text, currency, told) if text else Meaning("") for text in texts]
    meanings = headings.marked(texts, _in_own_money(meanings, currency), currency)
    return ColumnLayout(grid, first, last, texts, meanings)


def _in_own_money(meanings: list[Meaning], currency: Currency) -> list[Meaning]:
    """Prices in other currencies left out where those in the job's stand beside them."""
    of_price = [each for each in meanings if each.column in PRICES and each.currency and each.how is not How.TOLD]
    others = [each for each in of_price if not currencies.fits(each.currency, currency)]
    if not others or len(others) == len(of_price):
        return meanings
    return [replace(each, column=IGNORE, kind="other_money") if each in others else each for each in meanings]


def _texts(grid: Grid, upper: SheetLine, lower: SheetLine | None) -> list[str]:
    """The headings as text; of two lines, the upper words before the lower ones."""
    above = [_said(cell) for cell in spread(grid, upper)]
    if lower is None:
        return above
    below = [_said(cell) for cell in lower.cells]
    width = max(len(above), len(below))
    above += [""] * (width - len(above))
    below += [""] * (width - len(below))
    return [f"{top} {text}".strip() if top != text else top for top, text in zip(above, below, strict=True)]


def _numbered(texts: list[str], told: Mapping[str, str]) -> list[str]:
    """The headings, with those without a name called by their letter, and those that stand twice told apart by number,
    once a person speaks of them so ("column D", "Price#2").
    """
    for found in map(LETTERED.fullmatch, told):
        index = ord(found[1]) - 97 if found else 0
        if index:
            texts += [""] * (index + 1 - len(texts))
            texts[index] = texts[index] or f"column {letter(index)}"
    if not any("#" in heading for heading in told):
        return texts
    seen: dict[str, int] = {}
    for index, text in enumerate(texts):
        seen[plain(text)] = count = seen.get(plain(text), 0) + 1
        if f"{plain(text)}#{count}" in told:
            texts[index] = f"{text}#{count}"
    return texts


def _said(cell: Value) -> str:
    return cell if isinstance(cell, str) else ""


def _meaning(text: str, currency: Currency, told: Mapping[str, str]) -> Meaning:
    said = meaning(text.partition("#")[0] if key(text) in told else text, currency)
    column = told.get(key(text))
    if column is None or column not in (*COLUMNS, IGNORE, ""):
        return said
    times = said.times if said.column == column else 1
    besides = said_besides(text, currency)
    if column not in (*PRICES, "deposit"):
        small = column == "postage" and besides.small and plain(text) not in lexicon.headings().left_out  # "P&P"
        return Meaning(column or IGNORE, How.TOLD, 100.0, "", said.currency, times, small=small)
    tax = besides.tax if column in PRICES else ""
    told_to_be = replace(besides, column=column, how=How.TOLD, likeness=100.0, tax=tax, times=times)
    return replace(told_to_be, deposit_inside=said.deposit_inside)


def letter(index: int) -> str:
    """The letters of a column, from 0, as spreadsheets have them."""
    return chr(65 + index) if index < 26 else f"{chr(64 + index // 26)}{chr(65 + index % 26)}"


def key(heading: str) -> str:
    """A heading as it is looked up; the number behind the second of two alike stays."""
    text, sign, number = heading.rpartition("#")
    return f"{plain(text)}#{number}" if sign and number.isdecimal() and text else plain(heading)


def settle(layout: ColumnLayout, told: Mapping[str, str], place: Place) -> None:
    """Choose the place of every column; what is in doubt and about money is noted at ``place``."""
    at = place.at(layout.place)
    _must_be_there(layout, told, at)
    _words_not_prices(layout)
    _codes_not_stock(layout)
    _price_by_default(layout)
    by_column: dict[str, list[int]] = {}
    for index, each in enumerate(layout.meanings):
        if each.column and each.column != IGNORE:
            by_column.setdefault(each.column, []).append(index)
    for column, places in by_column.items():
        places.sort(key=lambda index: (_ORDER.get(layout.meanings[index].how or How.CLOSE, 3), index))
        if column not in _SEVERAL:
            _by_certainty(layout, column, places)
    _choose_price(layout, by_column, at)
    for column, places in by_column.items():
        if column in PRICES or not places:
            continue
        if len(places) > 1 and column in MONEY:
            _two(layout, column, places, at)
        layout.at[column] = places if column in _SEVERAL or column in MONEY else places[:1]
        for index in places[len(layout.at[column]) :]:
            layout.left_out[index] = f"{layout.texts[places[0]]} was taken for {column}"


def _must_be_there(layout: ColumnLayout, told: Mapping[str, str], place: Place) -> None:
    present = {key(text) for text in layout.texts}
    for heading, column in told.items():
        if column not in (*COLUMNS, IGNORE, ""):
            close = nearest(column, COLUMNS)
            mend = f"did you mean {shown(close)}?" if close else "choose one of them"
            place.complain(shown(heading)[1:-1], found=shown(column), expected=f"one of {listed((*COLUMNS, IGNORE))}", mend=mend)  # noqa: E501 # fmt: skip
        elif key(heading) not in present:
            expected = f"one of the sheet's headings: {listed(text for text in layout.texts if text)}"
            place.complain(column, found=shown(heading), expected=expected, mend="write the heading as it stands")


def _words_not_prices(layout: ColumnLayout) -> None:
    """A column headed "VAT included" holds prices, unless all its cells are words such as yes and no."""
    for index in layout.of(*PRICES):
        each, cells = layout.meanings[index], layout.below(index)
        in_words = bool(cells) and all(isinstance(cell, str) and taxes.in_cell(cell) for cell in cells)
        if each.tax and each.how is not How.TOLD and in_words:
            layout.meanings[index] = replace(each, column="tax_said")


def _codes_not_stock(layout: ColumnLayout) -> None:
    """Below "Stock #" stand codes, if all cells are one word with figures and not all may count what is to be had."""
    for index in layout.of("stock"):
        texts = list(map(row_values.text, layout.below(index)))
        codes = texts and all(sum(map(str.isdigit, text)) >= _FIGURES_OF_CODE and " " not in text for text in texts)
        counts = all(text.isdecimal() and len(text) == _FIGURES_OF_CODE for text in texts)
        if layout.texts[index].endswith("#") and codes and not counts and layout.meanings[index].how is not How.TOLD:
            layout.meanings[index] = replace(layout.meanings[index], column="ref")


def _price_by_default(layout: ColumnLayout) -> None:
    """Where no other price stands, the retail price is what a shop asks if nothing is taken off it, and what an
    exchange part costs is its price if the deposit has a column. A price with the deposit in it is none where none has.
    """
    has_deposit = layout.has("deposit")
    for index in layout.of(*PRICES) if not has_deposit else ():
        if layout.meanings[index].deposit_inside and layout.meanings[index].how is not How.TOLD:
            layout.meanings[index] = Meaning("")
    if layout.has("price"):
        return
    known, reduced = lexicon.headings().prices, layout.of_kind("discounts") or layout.of_kind("savings")
    texts = list(map(plain, layout.texts))
    retail = [i for i in layout.of_kind("references") if known["retail"].intersection(texts[i].split())]
    exchange = [i for i in layout.of("") if texts[i] in known["exchange"]]
    for found, fits in ((retail, not reduced), (exchange, has_deposit)):
        if len(found) == 1 and fits:
            each = layout.meanings[found[0]]
            layout.meanings[found[0]] = replace(each, column="price", how=How.SYNONYM, likeness=100.0, kind="")


def _by_certainty(layout: ColumnLayout, column: str, places: list[int]) -> None:
    """Leave out what is only like a heading where one is there, and everything else where a person said which it is."""
    hows = {layout.meanings[index].how for index in places}
    for index in list(places):
        how = layout.meanings[index].how
        if How.TOLD in hows and how is not How.TOLD:
            reason = f"another column was said to be {column}"
        elif how is How.CLOSE and hows != {How.CLOSE}:
            reason = f"only like {column}, which is there"
        else:
            continue
        places.remove(index)
        layout.left_out[index] = reason


def _choose_price(layout: ColumnLayout, by_column: Mapping[str, list[int]], place: Place) -> None:
    """The one column that the price is taken from: one with the tax in it before any other."""
    places = [index for column in PRICES for index in by_column.get(column, ())]
    told = [index for index in places if layout.meanings[index].how is How.TOLD]
    for pick in (told, _taxed_first(layout, places)):
        if not pick:
            continue
        packs = [i for i in pick if layout.meanings[i].column == "price"]
        chosen = packs if packs and len({layout.meanings[i].tax for i in pick}) == 1 else pick
        if len(chosen) > 1 and any(layout.meanings[i].variant is None for i in chosen):
            _two(layout, "price", chosen, place)
        layout.at["price"] = chosen[:1]
        layout.prices = chosen if layout.meanings[chosen[0]].variant is not None else chosen[:1]
        for index in places:
            if index not in layout.prices:
                layout.left_out[index] = f"{layout.texts[chosen[0]]} was taken for the price"
        return
    if fitted := layout.of_kind("fitted"):
        text = layout.texts[fitted[0]]
        ways = [*(as_mapped(each, "price") for each in _of_sums(layout)), as_mapped(text, "price")]
        mend = (
            f"put what the parts alone cost into the sheet; if one is the price of the part alone: {' or '.join(ways)}"
        )
        place.complain("price", found=shown(text), expected="prices without the work of fitting", mend=mend)
        return
    figures = _likeliest(layout, _like_prices)
    of_price = [text for text in layout.texts if text and pieces.PRICE.search(plain(text))] or _of_sums(layout)
    mend = f"say which it is: {as_mapped(figures, 'price')}"
    if 1 < len(of_price) <= _FEW:
        mend = f"say which it is, the others left out: {' or '.join(_one_of(of_price))}"
    elif found := pieces.MEASURE.search(figures):
        once = f"if you need one {found['unit']}, or once what you need of it stands there"
        mend = f"say what your length or amount costs; {once}, {as_mapped(figures, 'price')}"
    expected = f"a column with the price among {listed(text for text in layout.texts if text)}"
    place.complain("price", found="no such column", expected=expected, mend=mend)


def _taxed_first(layout: ColumnLayout, places: Sequence[int]) -> list[int]:
    """The places of prices without those beside which one for the same goods has the tax in it."""
    taxed = {layout.meanings[index].variant for index in places if layout.meanings[index].tax == "with"}
    return [i for i in places if layout.meanings[i].tax == "with" or layout.meanings[i].variant not in taxed]


def _of_sums(layout: ColumnLayout) -> list[str]:
    """The headings that nobody knows above amounts with decimals or a currency."""
    fits = (index for index in layout.of("") if likely.like_prices(layout.below(index)) > 1)
    return [layout.texts[index] for index in fits if layout.texts[index]]


def _one_of(headings: Sequence[str]) -> Iterator[str]:
    """Each heading as that of the price, and the others as none."""
    for heading in headings:
        yield " ".join(as_mapped(each, "price" if each == heading else IGNORE) for each in headings)


def _likeliest(layout: ColumnLayout, likeness: Callable[[ColumnLayout, int], float], *more: int) -> str:
    """The heading, of those without a column and ``more``, whose cells are likest."""
    free = [index for index in (*layout.of("", IGNORE), *more) if layout.texts[index]]
    best = max(sorted(free), key=lambda index: likeness(layout, index), default=None)
    return "Their heading" if best is None else layout.texts[best]


def _like_prices(layout: ColumnLayout, index: int) -> float:
    own = 0.1 if layout.meanings[index].column != IGNORE else 0.0
    return likely.like_prices(layout.below(index)) + own


def with_names(layout: ColumnLayout) -> str:
    """The heading, of those without a column by their name, whose cells look most like names of parts."""
    by_cells = (index for index, each in enumerate(layout.meanings) if each.column and each.how is How.CELLS)
    return _likeliest(layout, lambda layout, index: likely.like_names(layout.below(index)), *by_cells)


def as_mapped(heading: str, column: str) -> str:
    """The words with which a person says what a heading is."""
    return typed("map", heading, column)


def _two(layout: ColumnLayout, column: str, places: Sequence[int], place: Place) -> None:
    names = [shown(layout.texts[index]) for index in places]
    found = " and ".join((", ".join(names[:-1]), names[-1]))
    first = layout.texts[places[0]]
    if all(key(layout.texts[index]) == key(first) for index in places):
        ways = " or ".join(as_mapped(f"{first}#{_of_its_name(layout, index)}", column) for index in places)
    else:
        ways = " or ".join(as_mapped(layout.texts[index], column) for index in places)
    mend = f"say which of them it is: {ways}"
    place.complain(column, found=found, expected="one column that can be nothing else", mend=mend)


def _of_its_name(layout: ColumnLayout, place: int) -> int:
    """Which of the headings of one name it is, counted from 1."""
    name = key(layout.texts[place])
    return sum(key(text) == name for text in layout.texts[: place + 1])
