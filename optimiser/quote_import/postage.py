"""What a person said to be postage in a sheet, by supplier; and its place among the suppliers' terms, suppliers.csv.

An order has one postage, so two amounts for one supplier are a doubt. Of suppliers.csv nothing but the one cell
changes, byte for byte, or one line is added at its end.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from pathlib import Path

from optimiser import files
from optimiser.errors import CallError
from optimiser.job_folder.problems import Place, shown
from optimiser.job_folder.quote_sheets import IGNORE, MOST_BYTES
from optimiser.model.imports import TakenRow, Understood
from optimiser.money import Currency, parse
from optimiser.quote_import import asking, prices, row_values
from optimiser.quote_import.columns import as_mapped
from optimiser.quote_import.prices import AsWritten
from optimiser.quote_import.rows import Taking
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import Value, cell_at
from optimiser.text import typed

FILE = "suppliers.csv"
_NAMED = {
    "postage": "postage of {}",
    "free_over": "goods for free postage at {}",
    "minimum_order": "minimum order at {}",
}


def told(takings: Sequence[Taking], rows: Sequence[TakenRow], place: Place) -> dict[str, int]:
    """Minor units by supplier, as a person said that a column, a line or a remark is postage."""
    amounts: dict[str, dict[Decimal, None]] = {}
    for taking in takings:
        whose = {row.row: row.supplier for row in rows if row.sheet == taking.layout.grid.sheet}
        every = set(whose.values())
        if not every:  # what keeps the rows from being understood is asked about first
            continue
        for number, amount in _amounts(taking, whose, place):
            supplier = whose.get(number) or (every.copy().pop() if len(every) == 1 else "")
            amounts.setdefault(supplier, {})[amount] = None
    by_hand = "write what an order costs into suppliers.csv, and leave it out here with =ignore for =postage"
    for supplier, several in amounts.items():
        said = next(filter(None, (taking.told_of(asking.of_order(supplier)) for taking in takings)), "")
        if len(several) > 1 and (chosen := prices.number_in(said)) is not None:
            amounts[supplier] = {chosen: None}
        elif len(several) > 1 or not supplier:
            found = f"postage of {' and '.join(map(str, several))} from {supplier or 'one of several suppliers'}"
            mend = by_hand
            if supplier:
                mend = f"say what an order costs, the most first: {asking.ways_of_order(supplier, several)}"
            place.complain("postage", found=found, expected="one postage for an order from each supplier", mend=mend)
    single = {supplier: next(iter(each)) for supplier, each in amounts.items() if supplier and len(each) == 1}
    minor = {supplier: prices.minor_within(each, takings[0].money.currency) for supplier, each in single.items()}
    for supplier in [supplier for supplier, each in minor.items() if each is None]:
        found = f"postage of {single[supplier]} from {supplier}"
        place.complain("postage", found=shown(found), expected="an amount that the tool reckons with", mend=by_hand)
    return {supplier: each for supplier, each in minor.items() if each is not None}


def term(takings: Sequence[Taking], rows: Sequence[TakenRow], column: str) -> dict[str, int]:
    """Minor units of goods by supplier from which on there is no postage (``free_over``), or that an order comes to at
    the least (``minimum_order``), where a person said so of a line.
    """
    found: dict[str, int] = {}
    for taking in takings:
        whose = {row.row: row.supplier for row in rows if row.sheet == taking.layout.grid.sheet}
        every = set(whose.values())
        for line in (*taking.elsewhere, *taking.layout.grid.lines):
            said = next((each for cell in line.cells if (each := taking.term_said(cell, column)) is not None), None)
            minor = None if said is None else prices.minor_within(said, taking.money.currency)
            supplier = whose.get(line.number) or (min(every) if len(every) == 1 else "")
            found |= {} if minor is None or not supplier else {supplier: minor}
    return found


def unsaid(takings: Sequence[Taking]) -> Iterator[str]:
    """What a line says of when postage is free, where a person's word for the line is silent about it."""
    for taking in takings:
        for text, meaning in taking.told.words.items():
            waived = asking.free_over(text)
            if (
                waived is not None
                and taking.postage_said(meaning) is not None
                and taking.term_said(meaning, "free_over") is None
            ):
                whole = typed("word", text, f"{meaning} free over {waived}")
                yield f"{shown(text)} names {waived} of goods, which is not taken into {FILE}; if it is to be, {whole}"


def _amounts(taking: Taking, whose: Mapping[int, str], place: Place) -> Iterator[tuple[int, Decimal]]:
    index = taking.layout.one("postage")
    for line in taking.elsewhere:
        yield from ((0, said) for cell in line.cells if (said := taking.postage_said(cell)) is not None)
    for line in taking.layout.grid.lines:
        for cell in line.cells:
            said = taking.postage_said(cell)
            if said is not None:
                yield line.number, said
        value = None if index is None or line.number not in whose else cell_at(line.cells, index)
        if index is None or value is None:
            continue
        amount = _amount(taking, value)
        if amount is None:
            found, mend = shown(row_values.text(value)), as_mapped(taking.layout.texts[index], IGNORE)
            at = place.at(taking.money.where(line.number))
            at.complain("postage", found=found, expected="an amount of postage", mend=f"leave it out: {mend}")
        else:
            yield line.number, amount


def _amount(taking: Taking, value: Value) -> Decimal | None:
    read = prices.price(value)
    if not isinstance(read, AsWritten) or read.tax == "without":
        return None
    if read.currency and not currencies.fits(read.currency, taking.money.currency):
        return None
    amount, index = read.amount.under(taking.money.decimal), taking.layout.one("postage")
    small = read.small or (index is not None and taking.layout.meanings[index].small)
    return amount.scaleb(-taking.money.currency.places) if small and amount is not None else amount


def changes(folder: Path, sheet: Understood, currency: Currency) -> tuple[str, ...]:
    """What writing it among the terms would change, a sentence for each supplier."""
    lines = []
    for column, amounts in _terms([sheet]).items():
        before = _standing(_content(folder), column) if amounts else {}
        for supplier, minor in amounts.items():
            was, now = before.get(supplier, ""), currency.text(minor)
            named = _NAMED[column].format(supplier)
            if not was:
                lines.append(f"{named}: {now} an order, into {FILE}")
            elif _minor(was, currency) != minor:
                lines.append(f"{named}: {was} before, {now} now, in {FILE}")
    return tuple(lines)


def _terms(sheets: Iterable[Understood]) -> dict[str, dict[str, int]]:
    """By column of the terms what sheets say of suppliers."""
    every = [*sheets]
    return {
        "postage": {name: minor for each in every for name, minor in each.postage.items()},
        "free_over": {name: minor for each in every for name, minor in each.free_over.items()},
        "minimum_order": {name: minor for each in every for name, minor in each.minimum_order.items()},
    }


def written(folder: Path, sheets: Sequence[Understood], currency: Currency) -> bytes | None:
    """The suppliers' terms with the postage in them; None where they hold it already. Raises ``CallError``."""
    before, terms = _content(folder), _terms(sheets)
    heads = ["supplier", *(column for column in terms if terms[column])]
    content = before or f"{','.join(heads)}\n".encode()
    for column, amounts in terms.items():
        content = _with_column(folder, content, column, amounts, currency)
    return content if content != before and any(terms.values()) else None


def _with_column(
    folder: Path, content: bytes, column: str, minor_units: Mapping[str, int], currency: Currency
) -> bytes:
    before = _standing(content, column)
    new = {name: minor for name, minor in minor_units.items() if _minor(before.get(name, ""), currency) != minor}
    if not new:
        return content
    if files.leads_outside(folder / FILE, folder):
        raise CallError(
            f"{FILE} is a link that leads out of the job's folder: nothing was written.", "Put a file there."
        )
    amounts = {name: currency.text(minor) for name, minor in new.items()}
    return _with(content, column, amounts)


def _content(folder: Path) -> bytes:
    try:
        return files.content(folder / FILE, MOST_BYTES)
    except FileNotFoundError:
        return b""
    except OSError as error:
        raise CallError(f"{FILE} cannot be read: {error.strerror}.", "Put a plain file in its place.") from None


def _standing(content: bytes, column: str) -> dict[str, str]:
    """What stands in a column of the terms, by supplier."""
    rows = csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline=""))
    rows.fieldnames = [name.strip() for name in rows.fieldnames or ()]
    return {(row.get("supplier") or "").strip(): (row.get(column) or "").strip() for row in rows}


def _minor(written_there: str, currency: Currency) -> int | None:
    try:
        return parse(written_there, currency)
    except ValueError:
        return None


def _with(content: bytes, under: str, amounts: Mapping[str, str]) -> bytes:
    """The bytes with these amounts under a heading, nothing else of them changed."""
    said = content.decode("utf-8")
    lines = list(_cells(said))
    heads = _heads(said, lines[0])
    if "supplier" not in heads:
        raise CallError(f"{FILE} has no column supplier: nothing was written.", "Add the column, empty.")
    if under not in heads:
        return _with(_with_another(said, lines, under).encode(), under, amounts)
    name, place = map(heads.index, ("supplier", under))
    of = {said[slice(*line[name])].strip('" '): line[place] for line in lines[1:] if len(line) == len(heads)}
    for supplier, (start, end) in sorted(of.items(), key=lambda each: each[1], reverse=True):
        if supplier in amounts:
            said = f"{said[:start]}{amounts[supplier]}{said[end:]}"
    ends = "\r\n" if "\r\n" in said else "\n"
    for supplier in (name for name in amounts if name not in of):
        cells = [""] * len(heads)
        cells[name], cells[place] = supplier, amounts[supplier]
        said += ("" if said.endswith(("\n", "\r")) else ends) + ",".join(cells) + ends
    return said.encode()


def _heads(said: str, line: Sequence[tuple[int, int]]) -> list[str]:
    return [said[start:end].strip('"\ufeff ') for start, end in line]


def _with_another(said: str, lines: Sequence[Sequence[tuple[int, int]]], under: str) -> str:
    """The text with one more column behind the others, empty but for its heading."""
    width = len(lines[0])
    for place, line in reversed(list(enumerate(lines))):
        if len(line) == width:
            end = line[-1][1]
            said = f"{said[:end]},{'' if place else under}{said[end:]}"
    return said


def _cells(said: str) -> Iterator[list[tuple[int, int]]]:
    """Where each cell of each line begins and ends, its quotation marks included; empty lines are left out."""
    line, start, quoted = list[tuple[int, int]](), 0, False
    for place, sign in enumerate(f"{said}\n"):
        quoted ^= sign == '"'
        if quoted or sign not in ",\r\n":
            continue
        line.append((start, place))
        start = place + 1
        if sign != ",":
            if any(end > begin for begin, end in line):
                yield line
            line = []
