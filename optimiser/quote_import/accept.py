"""Taking an understood sheet into the job: a clean sheet in ``quotes/``, and the older offers that it ends.

Which rows end. A newer quote of the same supplier, part, condition, pack and ref takes the place of the older one. A
sheet taken in again under the same name (dates and figures in it apart), or one said to be the whole of a supplier's
offer, also ends what it no longer holds. An ended row stays where it is, in the clean sheet that the tool wrote, with
the day before as its last day: it is shown as lapsed and never planned with. The originals, and every sheet that the
tool did not write or that somebody has changed since, are not touched; where one of them holds the same quote, that
is said.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path, PurePath

from optimiser import files
from optimiser.errors import CallError, InputError
from optimiser.job_folder.quote_sheets import MOST_BYTES
from optimiser.model.imports import Accepted, Change, Happened, Key, Understood
from optimiser.money import Currency, parse
from optimiser.names import slug
from optimiser.quote_import import acceptances, clean_sheet, naming, postage, register
from optimiser.quote_import.clean_sheet import CleanRow
from optimiser.quote_import.register import FOLDER, CleanSheet, Register
from optimiser.quote_import.rows import SOLD
from optimiser.text import count

_LONGEST_STEM = 80
_TOLD_OF = ("deposit", "stock", "valid_until", "refund_share", "lead_days")
"""Columns besides the price of which a change is told."""


@dataclass(frozen=True, slots=True)
class _Older:
    """A row in a sheet of the job: which sheet, which row, whether it is ours to end."""

    sheet: str
    row: int
    standing: CleanRow
    ours: bool


def accept(
    folder: Path,
    sheets: Sequence[Understood],
    currency: Currency,
    today: date,
    before_writing: Callable[[], object] = tuple,
    *,
    whole: bool = False,
    keep: bool = True,
) -> tuple[Accepted, ...]:
    """Write the clean sheets of what was understood into the job folder, one after the other: all of them or none.

    ``whole``: each sheet is all that its suppliers offer now. ``keep``: what was told is kept for their next sheets.
    ``before_writing`` is called when all is known and the writing begins.
    Raises ``InputError`` with the doubts that are open, ``CallError`` where there is nothing to take in or it cannot
    be written, ``RecordInUseError`` where another call takes sheets in for too long. Everything is written beside its
    place first and then put in place: the record of our sheets, the new sheets, the older ones; a call that was broken
    off there is finished by calling again.
    """
    for each in sheets:
        if each.doubts:
            raise InputError(each.doubts, each.more_doubts)
        if not each.rows:
            raise CallError(f"Nothing in {each.file} was understood as a quote.", "See why each row was set aside.")
    with register.held(folder):
        taken, desk = _all_taken(folder, sheets, currency, today, whole=whole, keep=keep)
        terms = postage.written(folder, sheets, currency)
        before_writing()
        _put(folder, sheets, taken, desk, terms)
    return taken


def changes(
    folder: Path, sheets: Sequence[Understood], currency: Currency, today: date, *, whole: bool = False
) -> tuple[tuple[Change, ...], ...]:
    """What accepting each of the sheets in turn would change. Nothing is written."""
    taken, _ = _all_taken(folder, sheets, currency, today, whole=whole, keep=False)
    return tuple(each.changes for each in taken)


@dataclass(frozen=True)
class _Accepting:
    """The folder with what is about to be written: the record of our sheets, as it was ``before`` and as it is to be,
    and sheets of ours by name.
    """

    folder: Path
    before: Register
    known: Register
    states: Mapping[str, bytes]


def _all_taken(
    folder: Path, sheets: Sequence[Understood], currency: Currency, today: date, *, whole: bool, keep: bool
) -> tuple[tuple[Accepted, ...], _Accepting]:
    before, taken = register.read(folder), list[Accepted]()
    desk = _Accepting(folder, before, before, {})
    for each in sheets:
        done, desk = _taken(desk, each, currency, today, whole=whole, keep=keep)
        taken.append(done)
    return tuple(taken), desk


def _taken(
    desk: _Accepting, understood: Understood, currency: Currency, today: date, *, whole: bool, keep: bool
) -> tuple[Accepted, _Accepting]:
    """One sheet taken in, on the desk alone."""
    known = desk.known
    name = _name(desk, understood.file, today)
    older = list(_older(desk))
    only = None if whole else _earlier(known, understood)
    changes, ended = _compared(understood, older, currency, today, only)
    content = clean_sheet.data(clean_sheet.of_row(row, currency) for row in understood.rows)
    states = {name: content} | _rewritten(older, ended, today)
    same = [sheet for sheet in states if sheet != name and register.digest(content) in known.sheets[sheet].digests[:1]]
    if same and len(states) == 2 and known.sheets[same[0]].taken == today:
        name, states = same[0], {}  # taken in today already, and nothing has changed since
    known = _recorded(known, understood, states, today, keep=keep)
    done = Accepted(f"{FOLDER}/{name}", len(understood.rows), tuple(changes))
    return done, replace(desk, known=known, states={**desk.states, **states})


def _earlier(known: Register, understood: Understood) -> set[str]:
    """The clean sheets of earlier editions of this one."""
    return {sheet for sheet, each in known.sheets.items() if stem(each.original) == stem(understood.file)}


def stem(original: str) -> str:
    """What tells one original from another: its name without dates, figures and common words."""
    return slug(naming.of_file_name(original)) or slug(PurePath(original).stem)


def _name(desk: _Accepting, original: str, today: date) -> str:
    """A name for the clean sheet that no file has."""
    begins = slug(PurePath(original).stem)[:_LONGEST_STEM] or "sheet"
    for number in range(1, 1000):
        name = f"{begins}-{today.isoformat()}{'' if number == 1 else f'-{number}'}.csv"
        path = desk.folder / FOLDER / name
        if name not in desk.states and not path.exists() and not path.is_symlink():
            return name
    raise CallError(f"There is no free name for the clean sheet of {original}.", "Take old sheets out of quotes.")


def _older(desk: _Accepting) -> Iterator[_Older]:
    """Every row of the job's sheets that can be read; what cannot is for ``verify`` to report."""
    home = desk.folder / FOLDER
    paths = {home / name for name in desk.states}
    paths |= set(home.glob("*.csv")) if home.is_dir() else set()
    for path in (desk.folder / "quotes.csv", *sorted(paths)):
        ours = path.parent == home and (path.name in desk.states or desk.known.is_ours(path))
        if path.name.startswith(".") or not (ours or path.is_file()):
            continue
        try:
            known = ours and path.name in desk.states
            content = desk.states[path.name] if known else files.content(path, MOST_BYTES)
            rows = clean_sheet.standing(content) if ours else _own(content)
            for number, row in enumerate(rows):
                yield _Older(path.name, number, row, ours)
        except (OSError, ValueError, csv.Error):
            continue


def _own(content: bytes) -> Sequence[CleanRow]:
    """The rows of a sheet that a person wrote in our columns, as far as it is one."""
    lines = csv.DictReader(content.decode("utf-8-sig").splitlines())
    rows = [
        CleanRow({k: v.strip() for k, v in line.items() if k and isinstance(v, str) and v.strip()}) for line in lines
    ]
    return [row for row in rows if count(row.cells.get("pack", "1")) is not None]


def _compared(
    understood: Understood, older: Sequence[_Older], currency: Currency, today: date, only: set[str] | None
) -> tuple[list[Change], dict[tuple[str, int], str]]:
    """Every change, and the older rows of ours that end, with the reason.

    ``only`` are the older sheets of which this one is a newer edition; None: it is the whole of each supplier's offer.
    """
    rows, unclear = understood.rows, {row.part for row in understood.aside if row.part and row.reason != SOLD}
    before: dict[Key, list[_Older]] = {}
    for each in older:
        if _holds(each.standing, today):
            before.setdefault(each.standing.key, []).append(each)
    now = {row.key: row.price_minor for row in rows}
    cells = {row.key: clean_sheet.of_row(row, currency).cells for row in rows}
    changes = []
    ended: dict[tuple[str, int], str] = {}
    repacked = _repacked(now, before, only)
    for key, price in now.items():
        if (was_packed := repacked.get(key)) is not None:
            changes.append(_of_pack(was_packed, key, price, currency, cells[key]))
            ended[(was_packed.sheet, was_packed.row)] = f"newer quote of {today.isoformat()}"
        elif key not in before:
            changes.append(Change(Happened.NEW, key, after_minor=price))
        for each in before.get(key, ()):
            was = _minor(each.standing, currency)
            also = _other_changes(each.standing.cells, cells[key])
            what = Happened.CHANGED if also or was != price else Happened.SAME
            changes.append(Change(what, key, was, price, each.sheet, ended=each.ours, yours=not each.ours, rest=also))
            if each.ours:
                ended[(each.sheet, each.row)] = f"newer quote of {today.isoformat()}"
    suppliers = {key[0] for key in now}
    # a row that was set aside may be the very offer that is missed
    packed_anew = {each.standing.key for each in repacked.values()}
    missed = (
        key
        for key in before
        if key not in now and key[0] in suppliers and key[1] not in unclear and key not in packed_anew
    )
    for each in (each for key in missed for each in before[key] if each.ours):
        ends = only is None or each.sheet in only
        was = _minor(each.standing, currency)
        changes.append(Change(Happened.GONE, each.standing.key, was, sheet=each.sheet, ended=ends))
        if ends:
            ended[(each.sheet, each.row)] = f"no longer offered on {today.isoformat()}"
    return changes, ended


def _repacked(
    now: Mapping[Key, int], before: Mapping[Key, Sequence[_Older]], only: set[str] | None
) -> dict[Key, _Older]:
    """The offers that are as before but for the pack: by the key now the one older row that they take the place of."""
    fresh: dict[tuple[str, ...], list[Key]] = {}
    gone: dict[tuple[str, ...], list[_Older]] = {}
    for key in now.keys() - before.keys():
        fresh.setdefault(_but_for_the_pack(key), []).append(key)
    for key in before.keys() - now.keys():
        ours = [each for each in before[key] if each.ours and (only is None or each.sheet in only)]
        gone.setdefault(_but_for_the_pack(key), []).extend(ours)
    pairs = ((keys, gone.get(rest, ())) for rest, keys in fresh.items())
    return {keys[0]: rows[0] for keys, rows in pairs if len(keys) == len(rows) == 1}


def _but_for_the_pack(key: Key) -> tuple[str, ...]:
    supplier, part, condition, _, ref = key
    return supplier, part, condition, ref


def _of_pack(older: _Older, key: Key, price: int, currency: Currency, cells: Mapping[str, str]) -> Change:
    """The same offer in another pack."""
    packs = ("pack", str(older.standing.key[3]), str(key[3]))
    also = (packs, *_other_changes(older.standing.cells, cells))
    return Change(Happened.CHANGED, key, _minor(older.standing, currency), price, older.sheet, ended=True, rest=also)


def _other_changes(before: Mapping[str, str], now: Mapping[str, str]) -> tuple[tuple[str, str, str], ...]:
    """What else of an offer is not as it was: column, before, now."""
    pairs = ((column, before.get(column, ""), now.get(column, "")) for column in _TOLD_OF)
    return tuple(each for each in pairs if not _alike(each[1], each[2]))


def _alike(one: str, other: str) -> bool:
    try:
        return one == other or (bool(one) == bool(other) and Decimal(one or "0") == Decimal(other or "0"))
    except InvalidOperation:
        return False


def _holds(row: CleanRow, today: date) -> bool:
    try:
        return row.holds_on(today)
    except ValueError:
        return True


def _minor(row: CleanRow, currency: Currency) -> int | None:
    try:
        return parse(row.cells.get("price", ""), currency)
    except ValueError:
        return None


def _rewritten(older: Sequence[_Older], ended: Mapping[tuple[str, int], str], today: date) -> dict[str, bytes]:
    """The older clean sheets in which rows end, as they will be."""
    touched = {sheet for sheet, _ in ended}
    states = {}
    for sheet in sorted(touched):
        rows = [each for each in older if each.sheet == sheet and each.ours]
        states[sheet] = clean_sheet.data(
            each.standing.ended(today, ended[(sheet, each.row)]) if (sheet, each.row) in ended else each.standing
            for each in rows
        )
    return states


def _recorded(
    known: Register, understood: Understood, states: Mapping[str, bytes], today: date, *, keep: bool
) -> Register:
    """The record of our sheets, with what they are and what they will be: a call broken off loses none of them."""
    for name, content in states.items():
        before = known.sheets.get(name)
        digests = (register.digest(content), *(before.digests if before else ()))[:3]
        original, taken = (before.original, before.taken) if before else (understood.file, today)
        known = known.with_sheet(name, CleanSheet(original, taken, tuple(dict.fromkeys(digests))))
    return known.with_told(understood.suppliers, understood.told) if keep else known


def _put(
    folder: Path, sheets: Sequence[Understood], taken: Sequence[Accepted], desk: _Accepting, terms: bytes | None
) -> None:
    """Write the record, each sheet and the suppliers' terms, if they change, beside their places; only when all of them
    are on disk, put them in place. What stood before is kept beside them.
    """
    written = {f"{FOLDER}/{name}": content for name, content in desk.states.items()}
    written |= {} if terms is None else {postage.FILE: terms}
    contents = {register.PLACE: register.text(desk.known).encode(), **written}
    if written or desk.known != desk.before:
        names = dict.fromkeys(each.sheet for each in taken)
        whose = {row.supplier for each in sheets for row in each.rows}.union(*(each.suppliers for each in sheets))
        known = (desk.before, desk.known)
        contents = acceptances.of(folder, tuple(names), tuple(sorted(whose)), written, known) | contents
    with files.put_in_place(*(folder / name for name in contents)) as places:
        for place, content in zip(places, contents.values(), strict=True):
            place.write(content)
