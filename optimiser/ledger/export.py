"""The record as JSON lines (RFC 8259, one value a line, UTF-8): to keep, to mail, to read without SQLite, to take in.

First a head that counts, then a line for each happening, then one for each plan. Nothing is left out: a record taken in
from its export is exported again byte for byte.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal, TypeVar

from pydantic import Field, ValidationError

from optimiser import files
from optimiser.errors import CallError, InputError, Problem
from optimiser.ledger.store import Recorded
from optimiser.model.base import Record
from optimiser.model.events import Happening, Lost, Number, PlanMade, Strike, entries

MOST_BYTES = 300_000_000
MOST_PROBLEMS = 50
"""Problems that one error carries; the rest are counted."""
_MEND = "put the line back as it was exported, or export again"
Rows = Annotated[int, Field(strict=True, ge=0, le=10**9)]
R = TypeVar("R", bound=Record)


class Head(Record):
    """The first line: the format, and how many lines of each kind follow."""

    format: Literal[1] = 1
    happenings: Rows
    plans: Rows


class HappeningLine(Record):
    """A happening with its running number."""

    number: Number
    happening: Happening


class PlanLine(Record):
    """A plan that was made."""

    plan: PlanMade


def lines(recorded: Recorded) -> Iterator[bytes]:
    """The record line by line, each with its end of line."""
    yield _line(Head(happenings=len(recorded.entries), plans=len(recorded.plans)))
    for entry in recorded.entries:
        yield _line(HappeningLine(number=entry.number, happening=entry.happening))
    for plan in recorded.plans:
        yield _line(PlanLine(plan=plan))


def _line(record: Record) -> bytes:
    return record.model_dump_json().encode() + b"\n"


def write(path: Path, recorded: Recorded) -> None:
    """Write an export, whole or not at all. Raises ``CallError`` where a file is there already or cannot be written."""
    try:
        if path.exists():
            raise CallError(f"{path} is there already.", "Name a new file: nothing is written over.")
        with files.put_in_place(path) as (file,):
            file.writelines(lines(recorded))
    except OSError as error:
        raise CallError(f"{path} cannot be written: {error.strerror}.", "Name a file that you may write.") from None


def read(path: Path) -> Recorded:
    """Read an export. Raises ``CallError`` where no file can be read, ``InputError`` with all that is wrong in it."""
    try:
        if not path.is_file():
            raise CallError(f"{path} is no file.", "Name a file of JSON lines that was exported from a record.")
        data = files.content(path, MOST_BYTES)
    except OSError as error:
        raise CallError(f"{path} cannot be read: {error.strerror}.", "Allow reading it.") from None
    if len(data) > MOST_BYTES:
        raise CallError(f"{path} holds more than {MOST_BYTES // 10**6} million bytes.", "Name an export of a record.")
    return recorded(data, path.name)


def recorded(data: bytes, file: str) -> Recorded:
    """The record that an export holds. Raises ``InputError`` with all problems; ``file`` is its name in them."""
    return _Reader(file).recorded(data)


class _Reader:
    """Reads one export and collects what is wrong with it."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self.count = 0
        self.happenings: list[Happening] = []
        self.plans: list[PlanMade] = []
        self.struck: set[int] = set()

    def recorded(self, data: bytes) -> Recorded:
        written = [
            (f"line {number}", line)
            for number, line in enumerate(data.removeprefix(b"\xef\xbb\xbf").split(b"\n"), start=1)
            if line.strip()
        ]
        head = self._parsed(Head, *written[0]) if written else None
        if not written:
            self._complain("line 1", "", "nothing", "the head of an export")
        for where, line in written[1:]:
            self._take(where, line)
        if head is not None:
            self._count("happenings", len(self.happenings), head.happenings)
            self._count("plans", len(self.plans), head.plans)
        if self.count:
            raise InputError(self.problems, left_out=self.count - len(self.problems))
        return Recorded(entries(enumerate(self.happenings, start=1)), tuple(self.plans))

    def _take(self, where: str, line: bytes) -> None:
        if line.split(b'"', 2)[1:2] == [b"plan"]:
            if (plan := self._parsed(PlanLine, where, line)) is not None:
                self._take_plan(where, plan.plan)
        elif (row := self._parsed(HappeningLine, where, line)) is not None:
            self._take_happening(where, row)

    def _take_plan(self, where: str, plan: PlanMade) -> None:
        self.plans.append(plan)
        self._in_turn(where, "plan.number", plan.number, len(self.plans))
        if plan.after > len(self.happenings):
            self._complain(where, "plan.after", str(plan.after), f"at most {len(self.happenings)}, the last happening")

    def _take_happening(self, where: str, row: HappeningLine) -> None:
        self.happenings.append(row.happening)
        self._in_turn(where, "number", row.number, len(self.happenings))
        if isinstance(row.happening, Strike):
            target = row.happening.strikes
            earlier = self.happenings[target - 1] if target < len(self.happenings) else None
            if earlier is None or isinstance(earlier, Strike | Lost) or target in self.struck:
                self._complain(
                    where, "happening.strikes", str(target), "an earlier happening that is not struck out yet"
                )
            self.struck.add(target)

    def _in_turn(self, where: str, key: str, found: int, expected: int) -> None:
        if found != expected:
            self._complain(where, key, str(found), f"{expected}, the next number")

    def _count(self, what: str, found: int, expected: int) -> None:
        if found != expected:
            self._complain("line 1", what, str(expected), f"{found}, as many as there are lines that can be read")

    def _parsed(self, kind: type[R], where: str, line: bytes) -> R | None:
        try:
            return kind.model_validate_json(line)
        except ValidationError as error:
            for one in error.errors(include_url=False, include_context=False):
                key = _shown(".".join(str(step) for step in one["loc"]))
                expected = one["msg"].removeprefix("Input should be ").removeprefix("Value error, ")
                found = "nothing" if one["type"] == "missing" else _shown(one["input"])
                self._complain(where, key, found, _shown(expected, 200))
            return None

    def _complain(self, where: str, key: str, found: str, expected: str) -> None:
        self.count += 1
        if len(self.problems) < MOST_PROBLEMS:
            self.problems.append(Problem(self.file, where, key, found, expected, _MEND))


def _shown(value: object, longest: int = 60) -> str:
    """A value as found, safe to print: everything but plain ASCII escaped, cut after so many signs."""
    text = value.decode(errors="replace") if isinstance(value, bytes) else value
    shown = ascii(text) if not isinstance(text, str) else json.dumps(text)[1:-1]
    return shown if len(shown) <= longest else shown[:longest] + "..."
