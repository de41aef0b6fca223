"""Suppliers' sheets that were dropped into the page: laid where only this program looks, read by the service.

A browser's name for a file is a name and no path: what is kept of it is its last part, in plain signs.
"""

from __future__ import annotations

import csv
import io
import shlex
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import IO

from optimiser import service
from optimiser.errors import CallError, Problem
from optimiser.model.imports import Arrived, TurnedBack
from optimiser.model.job import Job
from optimiser.page.forms import Sent
from optimiser.page.live import Live
from optimiser.quote_import import telling

MOST_BATCHES = 20
LONGEST_NAME = 80
NEEDED = ("part", "supplier", "condition", "price")
TOLD = (*NEEDED, "pack", "postage")
"""What a shop may say of a part: the columns of the job's own sheets, and the postage of an order."""
PART_OF = "part:"
"""Before a name of theirs: the field that says which part it stands for."""
OPEN = ""
"""The choice that leaves a doubt open."""


@dataclass(frozen=True)
class Batch:
    """Sheets that came together, and the options by which their doubts were settled so far."""

    number: int
    files: tuple[Path, ...]
    told: tuple[str, ...] = ()
    taken: tuple[str, ...] = ()


class Uploads:
    """What was dropped in; all of it goes when the program ends."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="optimiser-page-", ignore_cleanup_errors=True)
        self._batches: OrderedDict[int, Batch] = OrderedDict()
        self._lock = threading.Lock()
        self._count = 0

    def close(self) -> None:
        """Take everything away."""
        self._folder.cleanup()

    def lay_down(self, files: Sequence[tuple[str, IO[bytes]]]) -> Batch:
        """Keep files by the names that a browser gave them. Raises ``CallError`` where there is none."""
        named = [(name, content) for name, content in files if name]
        if not named:
            raise CallError("No file was chosen.", "Choose a supplier's sheet: CSV, TSV, XLSX or ODS.")
        with self._lock:
            self._count += 1
            number = self._count
        room = Path(self._folder.name) / str(number)
        room.mkdir(mode=0o700)
        paths: list[Path] = []
        for name, content in named:
            path = room / _free(plain_name(name), {each.name for each in paths})
            path.write_bytes(content.read())
            paths.append(path)
        return self.put(Batch(number, tuple(paths)))

    def put(self, batch: Batch) -> Batch:
        """Keep a batch as it stands now; of very many the oldest goes."""
        with self._lock:
            self._batches[batch.number] = batch
            gone = [self._batches.popitem(last=False)[1] for _ in range(len(self._batches) - MOST_BATCHES)]
        for each in gone:
            for path in each.files:
                path.unlink(missing_ok=True)
        return batch

    def batch(self, number: int) -> Batch:
        """The batch of that number. Raises ``CallError`` where it is not kept."""
        with self._lock:
            if number in self._batches:
                return self._batches[number]
        raise CallError("Those sheets are not kept any more.", "Drop them in again.")


def told_by_a_shop(uploads: Uploads, sent: Sent) -> Batch:
    """What a form says that a shop asks for a part, laid down as the sheet that the shop might have sent.

    It is one by itself, so no newer edition of any other: it ends nothing but an older price for the same.

    Raises ``CallError`` where something is not filled in.
    """
    cells = {name: said for name in TOLD if (said := sent.text(name)) is not None}
    if lacking := [name for name in NEEDED if name not in cells]:
        raise CallError("That is not all of a price.", f"Fill in: {', '.join(lacking)}.")
    sheet = io.StringIO()
    csv.writer(sheet).writerows([cells.keys(), cells.values()])
    name = f"{cells['supplier']} told {cells['part']} {cells['condition']}.csv"
    batch = uploads.lay_down([(name, io.BytesIO(sheet.getvalue().encode()))])
    return uploads.put(replace(batch, told=("--map", "postage=postage"))) if "postage" in cells else batch


def plain_name(name: str) -> str:
    """The last part of a file's name, in signs that can be seen and mean nothing to a file system or a browser."""
    last = PurePosixPath(PureWindowsPath(name).name).name
    safe = "".join(sign if sign.isalnum() or sign in " ._-()" else "_" for sign in last).strip(" .")
    stem, dot, ending = safe.rpartition(".")
    kept = f"{stem[: LONGEST_NAME - len(ending) - 1]}{dot}{ending}" if dot and len(ending) < 8 else safe[:LONGEST_NAME]
    return kept or "sheet"


def _free(name: str, taken: Iterable[str]) -> str:
    stem, dot, ending = name.rpartition(".")
    for count in range(1, 100):
        free = name if count == 1 else f"{stem or ending}-{count}{dot}{ending if dot else ''}"
        if free not in taken:
            return free
    raise CallError("Too many files of one name.", "Drop fewer in at once.")


def understood(
    live: Live, batch: Batch, *, accept: bool = False, whole: bool = False
) -> tuple[Job, tuple[Arrived, ...]]:
    """The sheets as they are understood by what was told so far; with ``accept`` they enter the job unless in doubt.

    Raises as ``service.take_in`` does, and ``WordsError`` for what was told.
    """
    told = telling.told_by(batch.told)
    return service.take_in(live.folder, batch.files, told, live.clock.today(), accept=accept, whole=whole)


def turn_back(live: Live, sent: Sent) -> TurnedBack:
    """Take the sheets of an acceptance out of the job again, or put them back. Raises as ``service.take_out``."""
    sheet = sent.text("sheet")
    if sheet is None:
        raise CallError("No sheet is named.", "Choose one of those that were taken in.")
    with live.turn:
        return service.take_out(live.folder, sheet, put_back=sent.text("what") == "back")


def whose(batch: Batch, sent: Sent) -> Batch:
    """The batch as the sheet of the supplier that a form names. Raises ``CallError`` where it names none."""
    name = sent.text("supplier")
    if name is None:
        raise CallError("Whose sheet is it?", "Write the name of the shop.")
    pairs = zip(batch.told[::2], batch.told[1::2], strict=True)
    others = (word for pair in pairs if pair[0] != "--supplier" or "=" in pair[1] for word in pair)
    return replace(batch, told=(*others, "--supplier", name.replace("=", " ")))


def settled(batch: Batch, problems: Sequence[Problem], sent: Sent) -> Batch:
    """The batch with what a form chose for its doubts, and with what it typed.

    Raises ``CallError`` for a choice that was not offered, ``WordsError`` for options that do not go together.
    """
    told = list(batch.told)
    for name, part in sent.fields:
        if name.startswith(PART_OF) and part:
            told += ["--part", f"{name.removeprefix(PART_OF)}={part}"]
    for place, problem in enumerate(problems):
        chosen, own = sent.text(f"doubt-{place}") or OPEN, sent.text(f"own-{place}")
        if chosen and chosen not in telling.ways(problem):
            raise CallError("The sheet is understood otherwise by now.", "Look at it again, then choose.")
        if rate := sent.text(f"rate-{place}"):
            told += ["--ex-tax", rate.rstrip("% ")]
            chosen = "" if "--ex-tax" in chosen else chosen
        for words in filter(None, (chosen, own)):
            told += _words(words)
    telling.told_by(told)
    return replace(batch, told=tuple(told))


def _words(typed: str) -> list[str]:
    try:
        return shlex.split(typed)
    except ValueError:
        raise CallError(f"{typed[:60]!r} has a quotation mark that does not end.", "Close it.") from None
