"""Suppliers' sheets as they were understood, on a terminal, as JSON and as rows of a table."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Any, NamedTuple

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from optimiser.model.imports import Arrived, Change, TakenRow, TurnedBack, Understood
from optimiser.model.job import Job
from optimiser.show import as_json, dangers, import_words, layout, wording
from optimiser.show.tables import Column, Row
from optimiser.show.wording import plain

MOST_ROWS, MOST_LISTED = 60, 200
INDENT = (0, 0, 0, 1)
MOST_ALSO, LEAST_NAME, GAP = (36, 20), 12, 3
"""Columns that remarks on a quote take at the most (of one supplier, of several), and a name at the least; what stands
between two columns."""
HEADS = ("Row", "Part", "Condition", "Supplier", "Also", "Price")
MOST_IN_SHORT = 12
"""Rows set aside and changes that are listed where not everything is asked for."""
SAME = (
    *("part", "supplier", "condition", "pack", "stock", "good_chance", "refund_share"),
    *("lead_days", "warranty_months", "ref", "note", "written", "working"),
)
"""What the JSON says of a quote just as the row holds it."""
SHEETS = (
    Column("file", "name", "the file as it arrived"),
    Column("place", "text", "where the row stands in it"),
    Column("taken", "yes/no", "whether it was understood as a quote"),
    Column("part", "id", "the part"),
    Column("supplier", "id", "who offers it"),
    Column("condition", "word", "new, refurbished or salvage"),
    Column("price", "money", "price of a pack, tax included"),
    Column("pack", "pieces", "pieces in a pack"),
    Column("each", "money", "price of a piece, half up"),
    Column("deposit", "money", "exchange deposit of a piece"),
    Column("stock", "packs", "packs to be had; empty: no limit said"),
    Column("lead_days", "days", "days until it arrives"),
    Column("warranty_months", "months", "warranty"),
    Column("valid_until", "date", "last day of the offer"),
    Column("lapsed", "yes/no", "whether that day is gone"),
    Column("ref", "text", "the supplier's own number"),
    Column("note", "text", "what else the row says"),
    Column("written", "text", "the price as it was written"),
    Column("working", "text", "how the price came about from it"),
    Column("reason", "text", "why a row was set aside"),
    Column("says", "text", "what a row set aside says"),
)


def rows(job: Job, arrived: Iterable[Arrived], today: date) -> Iterator[Row]:
    """One row a row of the sheets, those set aside too; columns ``SHEETS``."""
    for each in arrived:
        if each.understood is None:
            continue
        for row in each.understood.rows:
            yield _taken_row(job, each.file, row, today)
        for aside in each.understood.aside:
            blank = (None,) * (len(SHEETS) - 5)
            yield (each.file, aside.place, "no", *blank, aside.reason, aside.says)


def _taken_row(job: Job, file: str, row: TakenRow, today: date) -> Row:
    money = job.currency.decimal
    price = (money(row.price_minor), row.pack, money(import_words.each_minor(row)), money(row.deposit_minor))
    until = None if row.valid_until is None else row.valid_until.isoformat()
    gone = "yes" if import_words.lapsed(row, today) else "no"
    rest = (row.stock, row.lead_days, row.warranty_months, until, gone, row.ref, row.note, row.written, row.working)
    return (file, row.place, "yes", row.part, row.supplier, row.condition, *price, *rest, None, None)


def document(job: Job, arrived: Sequence[Arrived], today: date) -> dict[str, Any]:
    """All of it as JSON, for ``as_json.pieces``: money as decimal strings."""
    return {
        **as_json.head(job),
        "written": any(each.sheet for each in arrived),
        "files": [_file(job, each, today) for each in arrived],
    }


def turned_document(job: Job, back: TurnedBack) -> dict[str, Any]:
    """What was taken out, or put back, as JSON."""
    out, put_back = ([], list(back.sheets)) if back.put_back else (list(back.sheets), [])
    return {**as_json.head(job), "taken_out": out, "put_back": put_back, "changed_since": list(back.stay)}


def show_turned(out: Console, job: Job, back: TurnedBack) -> None:
    dangers.show(out, job)
    first, *rest = import_words.turned_lines(back)
    for line in (f"{'Put back' if back.put_back else 'Taken out'}: {first}", *rest):
        out.print(Text(line))
    out.print(Text(import_words.turn_again(back)), soft_wrap=True)


def _file(job: Job, each: Arrived, today: date) -> dict[str, Any]:
    """One file; its rows are iterators, so that a hundred thousand of them are never in memory as JSON."""
    read = each.understood or Understood(each.file)
    return {
        "file": each.file,
        "readable": each.understood is not None,
        "sheet": each.sheet or None,
        "suppliers": list(read.suppliers),
        "remarks": list(read.remarks),
        "headings": [
            {"heading": h.text, "place": h.place, "column": h.column or None} | _held(h, "how", "likeness", "why")
            for h in read.headings
        ],
        "quotes": (_quote(job, row, today) for row in read.rows),
        "aside": (
            {"place": row.place, "kind": row.kind.value, "reason": row.reason, "says": row.says}
            | {"nearest": list(row.nearest)}
            for row in read.aside
        ),
        "near": [
            {"part": near.part, "rows": [_held(row, "place", "named", "says") for row in near.rows]}
            for near in read.near
        ],
        "cautions": list(import_words.cautions(each, today)),
        "problems": [_held(one, "where", "key", "found", "expected", "mend") for one in each.problems],
        "more_problems": each.more_problems,
        "changes": (_change(job, one) for one in each.changes),
        "terms": list(each.terms),
    }


def _held(what: object, *names: str) -> dict[str, Any]:
    return {name: getattr(what, name) for name in names}


def _quote(job: Job, row: TakenRow, today: date) -> dict[str, Any]:
    return _held(row, "place", *SAME) | {
        "price": job.currency.text(row.price_minor),
        "each": job.currency.text(import_words.each_minor(row)),
        "deposit": job.currency.text(row.deposit_minor),
        "valid_until": None if row.valid_until is None else row.valid_until.isoformat(),
        "lapsed": import_words.lapsed(row, today),
    }


def _change(job: Job, one: Change) -> dict[str, Any]:
    supplier, part, condition, pack, ref = one.key
    money = job.currency.text
    return {
        "what": one.what.value,
        "supplier": supplier,
        "part": part,
        "condition": condition,
        "pack": pack,
        "ref": ref,
        "before": None if one.before_minor is None else money(one.before_minor),
        "after": None if one.after_minor is None else money(one.after_minor),
        "percent": one.percent,
        "sheet": one.sheet or None,
        "ended": one.ended,
        "yours": one.yours,
    }


def show(out: Console, job: Job, arrived: Sequence[Arrived], today: date, *, everything: bool = False) -> None:
    """Every file: a line a quote, what to look at, what it changes; with ``everything``, how each thing was read."""
    dangers.show(out, job)
    for each in arrived:
        out.print(Text(import_words.headline(each), style="heading"))
        if each.understood is not None:
            _one(out, job, each, each.understood, today, everything=everything)
        out.print()
    out.print(Text(import_words.closing(arrived)))
    if any(each.sheet for each in arrived):
        out.print(Text(import_words.to_take_out()), soft_wrap=True)
    if not everything and any(each.understood is not None for each in arrived):
        out.print(Text(import_words.MORE, style="remark"))


def _one(out: Console, job: Job, each: Arrived, read: Understood, today: date, *, everything: bool) -> None:
    if everything:
        _in_full(out, job, read, today)
    else:
        if read.rows:
            out.print(Padding(_lines(out, job, read.rows, today), INDENT))
        _set_aside(out, job, read)
    _listed(out, "Look at this", list(import_words.cautions(each, today)), MOST_LISTED)
    title = "What it changed" if each.sheet else "What it would change"
    most = MOST_LISTED if everything else MOST_IN_SHORT
    _listed(out, title, list(import_words.changes(job, each)), most)


def _in_full(out: Console, job: Job, read: Understood, today: date) -> None:
    """How it was read, every heading, how each price came about, every row set aside."""
    _listed(out, "How it was read", [plain(one) for one in read.remarks], MOST_LISTED)
    if read.headings:
        layout.section(out, "Their headings", Padding(_headings(read), INDENT))
    if read.rows:
        layout.section(out, "Quotes understood", Padding(_quotes(job, read.rows, today), INDENT))
    _listed(out, "Rows set aside", [import_words.aside(row) for row in read.aside], MOST_LISTED)
    _part_meant(out, read)


def _part_meant(out: Console, read: Understood) -> None:
    if hint := import_words.part_meant(read):
        out.print(Padding(Text(hint, style="remark"), INDENT))


def _set_aside(out: Console, job: Job, read: Understood) -> None:
    """Few rows one by one; of a catalogue the names nearest to each wanted part; the rest is counted."""
    few = len(read.strangers) <= MOST_IN_SHORT
    told = [row for row in read.aside if (row.part and not row.asked) or (few and row.named)]
    _listed(out, "Rows set aside", [import_words.aside(row) for row in told], MOST_IN_SHORT)
    if few:
        _part_meant(out, read)
    for near in read.near:
        title = import_words.near_title(job, near)
        _listed(out, title, [import_words.near_row(row) for row in near.rows], MOST_LISTED)
    if read.near:
        out.print(Padding(Text(import_words.near_key(read.near[0]), style="remark"), INDENT))
    shown = {*told[:MOST_IN_SHORT], *(row for near in read.near for row in near.rows)}
    if rest := import_words.the_rest([row for row in read.aside if row not in shown]):
        out.print()
        out.print(Text(rest))


def _listed(out: Console, title: str, lines: Sequence[str], most: int) -> None:
    if not lines:
        return
    table = Table.grid(padding=(0, 1))
    for line in lines[:most]:
        table.add_row("-", Text(line))
    if len(lines) > most:
        table.add_row("-", Text(f"and {len(lines) - most} more: --csv FILE or --json has them all"))
    layout.section(out, title, Padding(table, INDENT))


def _headings(read: Understood) -> RenderableType:
    table = Table(box=SIMPLE_HEAD, padding=(0, 1), pad_edge=False, header_style="heading")
    for name in ("Their heading", "Taken for", "Because"):
        table.add_column(name, overflow="fold")
    for heading in read.headings:
        table.add_row(Text(plain(heading.text)), Text(import_words.taken_for(heading)), Text(import_words.how(heading)))
    return table


def _lines(out: Console, job: Job, all_rows: Sequence[TakenRow], today: date) -> RenderableType:
    """One line a quote; a long name is cut, money never is. On a narrow screen, a few lines of text a quote."""
    lines = [_Line.of(job, row, today) for row in all_rows[:MOST_ROWS]]
    several = len({row.supplier for row in all_rows}) > 1
    part, supplier, also = _widths(out.width, lines, several=several)
    if min(part, supplier or part) < LEAST_NAME:
        return Group(_in_short_lines(lines, several=several), *_more(all_rows))
    heads = [("Row", "right"), ("Part", "left"), ("Condition", "left")]
    heads += [("Supplier", "left")] if supplier else []
    table = layout.table(*heads, *([("Also", "wrap")] if also else []), ("Price", "money"))
    cut = layout.signs(out).cut
    for line in lines:
        said = [line.row, layout.shortened(line.part, part, cut), line.condition]
        said += [layout.shortened(line.supplier, supplier, cut)] if supplier else []
        said += [line.also] if also else []
        table.add_row(*map(Text, said), line.price)
    return Group(table, *_more(all_rows))


def _widths(width: int, lines: Sequence[_Line], *, several: bool) -> tuple[int, int, int]:
    """Columns for the part, the supplier (0: they are of one) and what else is said; names share what is left."""
    cells = zip(HEADS, zip(*lines, strict=True), strict=True)
    row, part, condition, supplier, said, price = (max(map(cell_len, (head, *column))) for head, column in cells)
    also = min(said, MOST_ALSO[several]) if any(line.also for line in lines) else 0
    room = width - row - condition - price - also - GAP * (4 + several + bool(also))
    if not several:
        return min(part, room), 0, also
    of_supplier = min(supplier, max(room // 2, room - part))
    return min(part, room - of_supplier), of_supplier, also


class _Line(NamedTuple):
    row: str
    part: str
    condition: str
    supplier: str
    also: str
    price: str

    @classmethod
    def of(cls, job: Job, row: TakenRow, today: date) -> _Line:
        return cls(
            str(row.row),
            wording.part(job, row.part),
            row.condition,
            wording.supplier(job, row.supplier),
            import_words.also(job, row, today),
            job.currency.text(row.price_minor),
        )


def _in_short_lines(lines: Sequence[_Line], *, several: bool) -> Table:
    """Quotes for a narrow screen."""
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right", no_wrap=True)
    table.add_column(overflow="fold")
    table.add_column(justify="right", no_wrap=True, min_width=max(len(line.price) for line in lines))
    for line in lines:
        said = [line.part, line.condition, line.supplier if several else "", line.also]
        table.add_row(line.row, Text(", ".join(filter(None, said))), line.price)
    return table


def _more(all_rows: Sequence[TakenRow]) -> list[Text]:
    rest = len(all_rows) - MOST_ROWS
    more = [Text(f"and {rest} more: --csv FILE or --json has them all")] if rest > 0 else []
    return [*more, Text(import_words.MONEY_KEY, style="remark")]


def _quotes(job: Job, all_rows: Sequence[TakenRow], today: date) -> RenderableType:
    table = Table(box=SIMPLE_HEAD, padding=(0, 1), pad_edge=False, header_style="heading")
    table.add_column("Row", justify="right")
    table.add_column("Quote, and how its price came about", overflow="fold")
    table.add_column("Price", justify="right", no_wrap=True)
    for row in all_rows[:MOST_ROWS]:
        what = Text(import_words.quote(row))
        if figures := import_words.figures(job, row, today):
            what.append(f"\n{figures}", style="detail")
        table.add_row(str(row.row), what, job.currency.text(row.price_minor))
    return Group(table, *_more(all_rows))
