"""Quotes side by side on a terminal and as JSON: part by part, and parts by suppliers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from optimiser.calls import call
from optimiser.model.job import Job
from optimiser.model.quote_comparison import Landed, Matrix, MatrixRow, Merit, Quoted, QuotesCompared, QuotesOfPart
from optimiser.show import as_json, dangers, layout, quote_words, wording
from optimiser.show.terminal import letters

NARROWEST, NARROW, ROOM_FOR_A_NAME = 40, 76, 28
"""Below so many columns a quote is a few lines of text instead of a row."""
PART_COLUMN, LEAST_PART_COLUMN = 30, 16
LONGEST_NAME, SHORTEST_NAME = 9, 5
"""Letters of a supplier's name above its column: as many, or where that brings all side by side, as few."""
MOST_SHOWN = 2_000
"""Quotes in all beyond which only those that win at something are shown: nobody reads the others part after part."""
NONE = "-"
Figures = tuple[str, str, str, str, str, str]


def document(answer: QuotesCompared) -> dict[str, Any]:
    """Everything as JSON: money as decimal strings, None where there is no such figure, each with its sums.

    Parts and quotes are iterators, to be written one by one with ``as_json.pieces``.
    """
    job = answer.job
    return {
        **as_json.head(job, None if answer.plan is None else answer.plan.selection),
        "held_against_plan": answer.plan is not None,
        "meaning": quote_words.meaning(answer),
        "parts": (
            {
                "part": part.part,
                "units": part.units,
                "repairs": list(part.repairs),
                "on_shelf": part.on_shelf,
                "quotes": (_quote_document(job, row) for row in part.rows),
            }
            for part in answer.parts
        ),
    }


def _quote_document(job: Job, row: Quoted) -> dict[str, Any]:
    quote, money = row.quote, job.currency.text
    tries = row.until_sound
    return {
        "quote": quote.id,
        "supplier": quote.supplier,
        "condition": quote.condition,
        "ref": quote.ref,
        "price": money(quote.price_minor),
        "pack": quote.pack,
        "price_each": money(quote.each_minor),
        "good_chance": quote.good_chance,
        "days": quote.lead_days,
        "warranty_months": quote.warranty_months,
        "valid_until": None if quote.valid_until is None else quote.valid_until.isoformat(),
        "not_offered": quote_words.barred(job, row) or None,
        "in_plan_orders": row.planned,
        "alone": _landed_document(job, row.alone),
        "in_plan": _landed_document(job, row.in_plan),
        "until_one_works": None
        if tries is None
        else {
            "expected": money(tries.expected_minor),
            "each_failure_takes": money(tries.again_minor),
            "refunded": money(tries.refund_minor),
            "replaced_under_warranty": tries.replaced,
            "if_another_turns_up": tries.one_try,
        },
        "wins": [merit.value for merit in Merit if merit in row.wins],
    }


def _landed_document(job: Job, landed: Landed | None) -> dict[str, Any] | None:
    if landed is None:
        return None
    money = job.currency.text
    return {
        "landed": money(landed.total_minor),
        "packs": landed.packs,
        "goods": money(landed.goods_minor),
        "order_top_up": money(landed.top_up_minor),
        "order_postage": money(landed.postage_minor),
        "order_with_it": money(landed.order_minor),
        "order_without_it": money(landed.before_minor),
        "deposits_lost": money(landed.lost_minor),
    }


def matrix_document(matrix: Matrix) -> dict[str, Any]:
    """The matrix as JSON: by supplier the lowest price each; suppliers without a quote are left out of a row."""
    money = matrix.job.currency.text
    return {
        **as_json.head(matrix.job),
        "suppliers": list(matrix.suppliers),
        "rows": (
            {
                "part": row.part,
                "condition": row.condition,
                "price_each": {supplier: money(quote.each_minor) for supplier, quote in sorted(row.cells.items())},
                "cheapest": sorted(row.cheapest),
            }
            for row in matrix.rows
        ),
    }


def show(out: Console, answer: QuotesCompared, *, explain: bool = False) -> None:
    """Part by part, for a single part how each figure came about; with ``explain``, what each column means."""
    out.width = max(out.width, NARROWEST)
    job = answer.job
    out.print(Text(wording.title(job), style="heading"))
    dangers.show(out, job, None if answer.plan is None else answer.plan.selection)
    out.print(Text(quote_words.headline(answer)))
    crowded = len(answer.parts) > 1 and sum(len(part.rows) for part in answer.parts) > MOST_SHOWN
    if crowded:
        out.print(Text(quote_words.CROWDED))
    for part in answer.parts:
        out.print()
        _part(out, answer, part, crowded=crowded)
    if not any(part.rows for part in answer.parts):
        return
    out.print()
    out.print(Text(quote_words.marks(answer)))
    for said in quote_words.meaning(answer) if explain else (quote_words.EXPLAIN,):
        out.print(Text(said))
    if len(answer.parts) > 1:
        out.print(Text(f"`{call('compare')} PART` shows how each figure of a part comes about."))


def _part(out: Console, answer: QuotesCompared, part: QuotesOfPart, *, crowded: bool) -> None:
    """One part: its quotes, the sums behind them where it is the only part, who wins on what."""
    job = answer.job
    out.print(Text(quote_words.part_title(job, part), style="heading"))
    lettered = list(zip(letters(), part.rows, strict=False))
    best = _first_at_each(part) if crowded else ()
    shown = [(letter, row) for letter, row in lettered if not crowded or row.quote.id in best]
    if shown:
        out.print(_side_by_side(out, answer, shown, contest=len(part.may_be_bought) > 1))
    if len(answer.parts) == 1:
        for letter, row in lettered:
            how = [f"{quote_words.quote(job, row)} ({quote_words.place(row)}):", *quote_words.how(job, row)]
            out.print(layout.bullet("\n".join(how), letter))
    letter_of = {row.quote.id: letter for letter, row in lettered}
    for said in (quote_words.wins(part, letter_of), quote_words.not_for_its_price(part, letter_of)):
        if said:
            out.print(Text(said))


def _first_at_each(part: QuotesOfPart) -> set[str]:
    """The quotes that the plan orders, and the first that is the best at each thing."""
    first = {merit: row.quote.id for row in reversed(part.rows) for merit in row.wins}
    return {*first.values(), *(row.quote.id for row in part.rows if row.planned)}


def _side_by_side(
    out: Console, answer: QuotesCompared, lettered: Iterable[tuple[str, Quoted]], *, contest: bool
) -> RenderableType:
    lettered = list(lettered)
    figures = [sum(len(figure) + 2 for figure in _figures(answer.job, row, contest=contest)) for _, row in lettered]
    if out.width < NARROW or max(figures, default=0) > out.width - ROOM_FOR_A_NAME:
        return Group(*(_in_lines(answer, letter, row, contest=contest) for letter, row in lettered))
    heads = ["", "Quote", "Each", "Alone", *(["In plan"] if answer.plan else []), "Until one works", "Days", "Warranty"]
    table = _table(heads, wraps=1)
    for letter, row in lettered:
        each, alone, in_plan, works, days, warranty = _figures(answer.job, row, contest=contest)
        why = quote_words.barred(answer.job, row)
        name = quote_words.quote(answer.job, row) + (f"; {why}" if why else "")
        planned = [in_plan] if answer.plan else []
        table.add_row(_mark(letter, row), Text(name), each, alone, *planned, works, days, warranty)
    return table


def _mark(letter: str, row: Quoted) -> str:
    return f"=> {letter}" if row.planned else letter


def _figures(job: Job, row: Quoted, *, contest: bool) -> Figures:
    """Price each, alone, in plan, until one works, days, warranty, each with a star where it wins.

    Without a contest there are no stars.
    """
    text = job.currency.text
    won = row.wins if contest else frozenset()
    money: tuple[tuple[Merit, int | None], ...] = (
        (Merit.EACH, row.quote.each_minor),
        (Merit.ALONE, None if row.alone is None else row.alone.total_minor),
        (Merit.IN_PLAN, None if row.in_plan is None else row.in_plan.total_minor),
        (Merit.UNTIL_SOUND, None if row.until_sound is None else row.until_sound.expected_minor),
    )
    each, alone, in_plan, works = (_starred(m in won, NONE if minor is None else text(minor)) for m, minor in money)
    works = f"~{works}" if row.until_sound is not None and row.until_sound.one_try else works
    months = row.quote.warranty_months
    warranty = _starred(Merit.WARRANTY in won, f"{months} mth" if months else NONE)
    return each, alone, in_plan, works, _starred(Merit.SOONEST in won, str(row.quote.lead_days)), warranty


def _starred(wins: bool, figure: str) -> str:
    """The figure with its star, or with a blank so that columns stay even."""
    return figure + ("*" if wins else " ")


def _in_lines(answer: QuotesCompared, letter: str, row: Quoted, *, contest: bool) -> RenderableType:
    """A quote for a narrow screen."""
    each, alone, in_plan, works, days, warranty = (
        figure.strip() for figure in _figures(answer.job, row, contest=contest)
    )
    why = quote_words.barred(answer.job, row)
    said = [f"{each} each"]
    if why:
        said.append(why)
    else:
        said += [f"alone {alone}", *([f"in plan {in_plan}"] if answer.plan else []), f"until one works {works}"]
        said += [f"days {days}", f"warranty {warranty}"]
    grid = Table.grid(padding=(0, 1))
    name = Text(quote_words.quote(answer.job, row), style="heading")
    grid.add_row(Text(_mark(letter, row)), Group(name, Text("; ".join(said))))
    return grid


def _table(heads: Iterable[str], wraps: int) -> Table:
    """A plain table; the first columns wrap their text, the others hold figures."""
    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1), header_style="heading", collapse_padding=True)
    for place, head in enumerate(heads):
        text = place == wraps
        table.add_column(Text(head), justify="left" if text else "right", no_wrap=not text and " " not in head)
    return table


def show_matrix(out: Console, matrix: Matrix) -> None:
    """Parts by suppliers, as many suppliers beside each other as the screen is wide."""
    out.width = max(out.width, NARROWEST)
    out.print(Text(wording.title(matrix.job), style="heading"))
    dangers.show(out, matrix.job)
    if not matrix.rows:
        out.print(Text("No quote that may be bought now."))
        return
    by_title = sorted(matrix.rows, key=lambda row: (wording.part(matrix.job, row.part).casefold(), row.part))
    if out.width < NARROW:
        for row in by_title:
            out.print(_matrix_lines(matrix.job, row))
    else:
        short, groups = _that_fit(out, matrix)
        for suppliers in groups:
            rows = [row for row in by_title if not set(suppliers).isdisjoint(row.cells)]
            out.print(_matrix_table(matrix, suppliers, rows, short))
        if legend := quote_words.legend(matrix, short):
            out.print(Text(legend))
    out.print(Text(quote_words.matrix_key()))


def _matrix_lines(job: Job, row: MatrixRow) -> RenderableType:
    """A row for a narrow screen."""
    asked = sorted(row.cells.items(), key=lambda cell: (cell[1].each, cell[0]))
    said = [f"{_asked(job, row, supplier)} {wording.supplier(job, supplier)}" for supplier, _ in asked]
    name = Text(f"{wording.part(job, row.part)}, {row.condition}", style="heading")
    return Group(name, Padding(Text("; ".join(said)), (0, 0, 0, 2)))


def _asked(job: Job, row: MatrixRow, supplier: str) -> str:
    """The price each of a cell, with a star for the lowest of several."""
    star = "*" if supplier in row.cheapest and len(row.cells) > 1 else ""
    return f"{job.currency.text(row.cells[supplier].each_minor)}{star}"


def _that_fit(out: Console, matrix: Matrix) -> tuple[dict[str, str], list[list[str]]]:
    """The suppliers' names above their columns, and the suppliers in as few groups as fit beside a column of parts.

    Names are cut, and then the column of parts is, before a table is.
    """
    for longest, column in ((LONGEST_NAME, PART_COLUMN), (SHORTEST_NAME, LEAST_PART_COLUMN)):
        short = quote_words.short_names(matrix, longest)
        widths = {supplier: 1 + _width(matrix, supplier, short[supplier]) for supplier in matrix.suppliers}
        if sum(widths.values()) + column <= out.width:
            return short, [list(matrix.suppliers)]
    groups: list[list[str]] = []
    room = 0
    for supplier, wide in widths.items():
        if wide > room:
            groups.append([])
            room = out.width - column
        groups[-1].append(supplier)
        room -= wide
    return short, groups


def _width(matrix: Matrix, supplier: str, name: str) -> int:
    asked = (len(_asked(matrix.job, row, supplier).rstrip("*")) + 1 for row in matrix.rows if supplier in row.cells)
    return max(*asked, len(name), 0)


def _matrix_table(matrix: Matrix, suppliers: list[str], rows: Iterable[MatrixRow], short: Mapping[str, str]) -> Table:
    job = matrix.job
    table = _table(["Part", *(short[supplier] for supplier in suppliers)], wraps=0)
    table.padding = (0, 0)
    for column, supplier in zip(table.columns[1:], suppliers, strict=True):
        column.no_wrap, column.width = True, _width(matrix, supplier, short[supplier])
    for row in rows:
        cells = [_asked(job, row, supplier) if supplier in row.cells else "" for supplier in suppliers]
        cells = [cell if cell.endswith("*") or not cell else f"{cell} " for cell in cells]
        table.add_row(Text(f"{wording.part(job, row.part)}, {row.condition}"), *cells)
    return table
