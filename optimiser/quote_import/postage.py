"""What a person said to be postage in a sheet, by supplier; and its place among the suppliers' terms, suppliers.csv.

An order has one postage, so two amounts for one supplier are a doubt. Of suppliers.csv nothing but the one cell
changes, byte for byte, or one line is added at its end.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from pathlib import Path

from optimiser import files
from optimiser.errors import CallError
from optimiser.job_folder.problems import Place, shown
from optimiser.job_folder.quote_sheets import IGNORE, MOST_BYTES
from optimiser.model.imports import TakenRow
from optimiser.money import Currency, parse
from optimiser.quote_import import asking, prices, row_values
from optimiser.quote_import.columns import as_mapped
from optimiser.quote_import.prices import AsWritten
from optimiser.quote_import.rows import Taking
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import Value, cell_at

FILE = "suppliers.csv"
_COLUMNS = ("supplier", "postage")


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


def changes(folder: Path, postage: Mapping[str, int], currency: Currency) -> tuple[str, ...]:
    """What writing it among the terms would change, a sentence for each supplier."""
    before = _standing(_content(folder)) if postage else {}
    lines = []
    for supplier, minor in postage.items():
        was, now = before.get(supplier, ""), currency.text(minor)
        if not was:
            lines.append(f"postage of {supplier}: {now} an order, into {FILE}")
        elif _minor(was, currency) != minor:
            lines.append(f"postage of {supplier}: {was} before, {now} now, in {FILE}")
    return tuple(lines)


def written(folder: Path, postage: Mapping[str, int], currency: Currency) -> bytes | None:
    """The suppliers' terms with the postage in them; None where they hold it already. Raises ``CallError``."""
    content = _content(folder)
    before = _standing(content)
    new = {name: minor for name, minor in postage.items() if _minor(before.get(name, ""), currency) != minor}
    if not new:
        return None
    if files.leads_outside(folder / FILE, folder):
        raise CallError(
            f"{FILE} is a link that leads out of the job's folder: nothing was written.", "Put a file there."
        )
    amounts = {name: currency.text(minor) for name, minor in new.items()}
    return _with(content or f"{','.join(_COLUMNS)}\n".encode(), amounts)


def _content(folder: Path) -> bytes:
    try:
        return files.content(folder / FILE, MOST_BYTES)
    except FileNotFoundError:
        return b""
    except OSError as error:
        raise CallError(f"{FILE} cannot be read: {error.strerror}.", "Put a plain file in its place.") from None


def _standing(content: bytes) -> dict[str, str]:
    """The postage of each supplier as it stands."""
    rows = csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline=""))
    rows.fieldnames = [name.strip() for name in rows.fieldnames or ()]
    return {(row.get("supplier") or "").strip(): (row.get("postage") or "").strip() for row in rows}


def _minor(written_there: str, currency: Currency) -> int | None:
    try:
        return parse(written_there, currency)
    except ValueError:
        return None


def _with(content: bytes, amounts: Mapping[str, str]) -> bytes:
    """The bytes with these amounts under postage, nothing else of them changed."""
    said = content.decode("utf-8")
    lines = list(_cells(said))
    heads = [said[start:end].strip('"\ufeff ') for start, end in lines[0]]
    if any(column not in heads for column in _COLUMNS):
        raise CallError(f"{FILE} has no column {' or '.join(_COLUMNS)}: nothing was written.", "Add the column, empty.")
    name, place = map(heads.index, _COLUMNS)
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
