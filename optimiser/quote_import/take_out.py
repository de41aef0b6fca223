"""Sheets that were accepted taken out of the job again, and put back: each file as it stood before, or after.

What a person has changed since is never written over. The record of what happened is not touched.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from itertools import islice
from pathlib import Path, PurePath
from typing import TypeVar

from optimiser import files
from optimiser.calls import call
from optimiser.errors import CallError, InputError
from optimiser.job_folder import quote_sheets
from optimiser.model.imports import TakenIn, TurnedBack
from optimiser.quote_import import acceptances, register
from optimiser.quote_import.acceptances import Acceptance, Settled, Wrought
from optimiser.quote_import.register import FOLDER, Register
from optimiser.text import in_shell

OUT, BACK = "--take-out", "--put-back"
MOST_LISTED = 50
_NO_FILE = b"\0"
_Numbered = tuple[int, Acceptance]
T = TypeVar("T")


def turn_back(
    folder: Path, sheet: str | None = None, before_writing: Callable[[], object] = tuple, *, put_back: bool = False
) -> TurnedBack:
    """Take the sheets accepted last, or with the one of that name, out again; ``put_back``: undo taking them out.

    ``before_writing`` is called when all is known and the writing begins. Raises ``CallError`` where nothing fits the
    name, something builds on it, or a file was changed since; else as ``accept``. A call that was broken off is
    finished by the same call.
    """
    if not acceptances.numbers(folder):
        raise _nothing(put_back)
    with register.held(folder):
        every = list(acceptances.read(folder))
        number, meant = _meant(every, sheet, put_back)
        _as_it_was(every, number, meant, put_back)
        wrought = acceptances.wrought(folder, number)
        texts = dict(_to_write(folder, number, wrought, put_back))
        known, stay = _settled(register.read(folder), wrought.settled, put_back)
        out = 0 if put_back else 1 + max(each.out for _, each in every)
        before_writing()
        last = {
            register.PLACE: register.text(known).encode(),
            acceptances.place_of(number): acceptances.data(meant.model_copy(update={"out": out}), wrought),
        }
        _put(folder, texts, last)
    still = not put_back and all((folder / sheet).exists() for sheet in meant.sheets)
    return TurnedBack(meant.sheets, put_back, stay, still)


def taken_in(folder: Path) -> tuple[TakenIn, ...]:
    """The acceptances, the latest first, as far as they can be made out; none of those taken out and taken in anew."""
    found: list[TakenIn] = []
    with suppress(InputError):
        for _, each in islice(acceptances.read(folder), MOST_LISTED):
            if not each.out or not any(set(each.sheets).intersection(newer.sheets) for newer in found):
                found.append(TakenIn(each.sheets, each.suppliers, stands=not each.out))
    return tuple(found)


def _meant(every: Sequence[_Numbered], sheet: str | None, put_back: bool) -> _Numbered:
    """The acceptance that a sheet's name means; without a name the last that stands, or that was taken out."""
    name = None if sheet is None else f"{FOLDER}/{PurePath(sheet).name}"
    of_it = [one for one in every if name is None or name in one[1].sheets]
    fit = [one for one in of_it if bool(one[1].out) is put_back]
    if not fit:
        raise _nothing(put_back) if name is None else _otherwise(name, put_back, known=bool(of_it))
    meant = max(fit, key=lambda one: one[1].out) if put_back else fit[0]
    anew = {sheet for number, each in every if number > meant[0] and not each.out for sheet in each.sheets}
    if put_back and (there := anew.intersection(meant[1].sheets)):
        raise _otherwise(min(there), put_back, known=True)
    return meant


def _nothing(put_back: bool) -> CallError:
    if put_back:
        return CallError(
            "No sheet was taken out that could be put back.", f"Take it in: {call('quotes', 'FILE --accept')}"
        )
    mend = "A sheet of your own, or one from an older version, is a file in quotes: take it out by hand."
    return CallError("No sheet that was accepted is there to take out.", mend)


def _otherwise(name: str, put_back: bool, *, known: bool) -> CallError:
    """A sheet that is not as the call would have it."""
    if not known:
        return CallError(f"It is not kept what accepting {name} changed.", "If it is to go, take it out by hand.")
    if put_back:
        return CallError(f"{name} is in the job already.", f"To take it out: {_call(name, OUT)}")
    return CallError(f"{name} is taken out already.", f"To put it back: {_call(name, BACK)}")


def _call(sheet: str, option: str) -> str:
    return call("quotes", in_shell(sheet), option)


def _as_it_was(every: Sequence[_Numbered], number: int, meant: Acceptance, put_back: bool) -> None:
    """Raises ``CallError`` unless of all that it shares with those stand that stood then, and no others."""
    for each, other in every:
        if each == number or not other.shares(meant):
            continue
        name, before = other.sheets[0], each in meant.upon
        if not other.out and not before:
            found = f"{name} was taken in after {meant.sheets[0]}, from the same supplier or into the same file."
            raise CallError(f"{found} Nothing was changed.", f"Take that out first: {_call(name, OUT)}")
        if other.out and before and put_back:
            found = f"{meant.sheets[0]} was taken in after {name}, which is taken out."
            raise CallError(f"{found} Nothing was changed.", f"Put that back first: {_call(name, BACK)}")


def _to_write(folder: Path, number: int, wrought: Wrought, put_back: bool) -> Iterator[tuple[str, str | None]]:
    """Each file that is not yet as it is to be, with its text, None: it goes.

    Raises ``CallError`` where one is not as accepting, or taking out, left it.
    """
    for path, text in wrought.files.items():
        left, wanted = (text.before, text.after) if put_back else (text.after, text.before)
        stands = _content(folder / path)
        if stands == _bytes(wanted):
            continue
        if stands != _bytes(left):
            what = "is gone" if stands is None else "was changed"
            mend = f"Make it as it was ({acceptances.place_of(number)} holds it), and say the same again."
            if wanted is None:
                mend = f"If your changes may go with it, take {path} out by hand, and say the same again."
            raise CallError(f"{path} {what} since: nothing was taken {'in' if put_back else 'out'}.", mend)
        yield path, wanted


def _bytes(text: str | None) -> bytes | None:
    return None if text is None else text.encode()


def _content(path: Path) -> bytes | None:
    """What stands there; nothing that a text could be where it is a link, or no plain file."""
    try:
        return _NO_FILE if path.is_symlink() else files.content(path, quote_sheets.MOST_BYTES)
    except FileNotFoundError:
        return None
    except OSError:
        return _NO_FILE


def _settled(known: Register, then: Settled, put_back: bool) -> tuple[Register, tuple[str, ...]]:
    """The register as it is to be, and the suppliers of which somebody settled something else since: that stays."""
    left, wanted = (
        register.parsed(text) for text in ((then.before, then.after) if put_back else (then.after, then.before))
    )
    sheets, suppliers, stay = dict(known.sheets), dict(known.suppliers), list[str]()
    for name in left.sheets.keys() | wanted.sheets:
        _set(sheets, name, wanted.sheets.get(name))
    for name in sorted(left.suppliers.keys() | wanted.suppliers):
        if left.suppliers.get(name) == suppliers.get(name):
            _set(suppliers, name, wanted.suppliers.get(name))
        elif wanted.suppliers.get(name) != suppliers.get(name):
            stay.append(name)
    return Register(suppliers, sheets), tuple(stay)


def _set(table: dict[str, T], name: str, value: T | None) -> None:
    table.pop(name, None)
    if value is not None:
        table[name] = value


def _put(folder: Path, texts: Mapping[str, str | None], last: Mapping[str, bytes]) -> None:
    """All is on the disk before anything is put in place; what is kept of it comes ``last``, so that a call that was
    broken off can be made again.
    """
    content = {path: text.encode() for path, text in texts.items() if text is not None}
    with _filled(folder, last):
        with _filled(folder, content):
            pass
        for path in texts.keys() - content.keys():
            (folder / path).unlink(missing_ok=True)


@contextmanager
def _filled(folder: Path, contents: Mapping[str, bytes]) -> Iterator[None]:
    with files.put_in_place(*(folder / path for path in contents)) as places:
        for place, content in zip(places, contents.values(), strict=True):
            place.write(content)
        yield
