"""Rows of the record: checked as they are read, counted as they are written.

Rows are fetched to the last: a cursor left halfway in some error's traceback would hold the file's lock.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeVar

from pydantic import TypeAdapter, ValidationError

from optimiser.ledger.schema import checksum, tally_checksum, version_of, write_tally
from optimiser.ledger.sqlite_errors import DamageFound
from optimiser.model.events import Entry, Happening, PlanMade, entries

T = TypeVar("T")
_ADD_PLAN = "INSERT INTO plans (number, at, after, text, checksum) VALUES (?, ?, ?, ?, ?)"
_REPLACE_PLAN = _ADD_PLAN.replace("INSERT", "INSERT OR REPLACE")
HAPPENING: TypeAdapter[Happening] = TypeAdapter(Happening)


class RowCount(NamedTuple):
    """How many rows there are."""

    happenings: int
    plans: int


def tally(connection: sqlite3.Connection) -> RowCount:
    """The tally, checked. Raises ``DamageFound``."""
    rows = connection.execute("SELECT happenings, plans, checksum FROM tally").fetchall()
    if len(rows) == 1:
        happenings, plans, given = rows[0]
        if given == tally_checksum(version_of(connection), happenings, plans).encode():
            return RowCount(happenings, plans)
    raise DamageFound("tally", "a count or a version that is not the one written")


def bodies(connection: sqlite3.Connection) -> list[bytes]:
    """The happenings as written, from number 1 on, every checksum tried. Raises ``DamageFound``."""
    count = tally(connection).happenings
    found: list[bytes] = []
    for row in connection.execute("SELECT number, body, checksum FROM happenings ORDER BY number").fetchall():
        if row[0] != len(found) + 1 or (body := whole_body(row)) is None:
            break
        found.append(body)
    if len(found) != count:
        raise DamageFound(
            f"happening {min(len(found), count) + 1}", "a row that is not as it was written, or is missing"
        )
    return found


def whole_body(row: tuple[object, ...]) -> bytes | None:
    """The body of a row of happenings if it is as it was written."""
    number, body, given = row
    if not isinstance(number, int) or not isinstance(body, bytes):
        return None
    return body if checksum("happening", number, body).encode() == given else None


def happening(number: int, body: bytes) -> Happening:
    """One happening. Raises ``DamageFound`` where the body is whole and yet makes no sense."""
    try:
        return HAPPENING.validate_json(body)
    except ValidationError as error:
        raise DamageFound(f"happening {number}", f"a body that makes no sense ({error.error_count()} things)") from None


def read_entries(connection: sqlite3.Connection) -> tuple[Entry, ...]:
    """Every happening with its number and what strikes it out. Raises ``DamageFound``."""
    return entries((number, happening(number, body)) for number, body in enumerate(bodies(connection), start=1))


def read_plans(connection: sqlite3.Connection) -> tuple[PlanMade, ...]:
    """Every plan made. Raises ``DamageFound``."""
    count = tally(connection).plans
    rows = connection.execute("SELECT number, at, after, text, checksum FROM plans ORDER BY number")
    found: list[PlanMade] = []
    for row in rows.fetchall():
        if row[0] != len(found) + 1 or (plan := whole_plan(row)) is None:
            break
        found.append(plan)
    if len(found) != count:
        raise DamageFound(f"plan {min(len(found), count) + 1}", "a row that is not as it was written, or is missing")
    return tuple(found)


def whole_plan(row: tuple[object, ...]) -> PlanMade | None:
    """The plan of a row of plans if it is as it was written."""
    number, at, after, text, given = row
    if not (isinstance(number, int) and isinstance(at, bytes) and isinstance(after, int) and isinstance(text, bytes)):
        return None
    if checksum("plan", number, at, str(after).encode(), text).encode() != given:
        return None
    try:
        return PlanMade.model_validate({"number": number, "at": at.decode(), "after": after, "text": text.decode()})
    except ValueError:
        return None


def add_happenings(connection: sqlite3.Connection, happenings: Sequence[Happening]) -> tuple[int, ...]:
    """Write the happenings after those there are, and return their numbers.

    Raises ``ValueError`` where one would not be read back as it was given.
    """
    before = tally(connection)
    numbers = tuple(range(before.happenings + 1, before.happenings + len(happenings) + 1))
    for number, each in zip(numbers, happenings, strict=True):
        body = HAPPENING.dump_json(each)
        if HAPPENING.validate_json(body) != each:
            raise ValueError(f"a happening that would not be read back as it is: {each!r}")
        row = (number, body.decode(), checksum("happening", number, body))
        connection.execute("INSERT INTO happenings (number, body, checksum) VALUES (?, ?, ?)", row)
    write_tally(connection, version_of(connection), before.happenings + len(numbers), before.plans)
    return numbers


def add_plans(connection: sqlite3.Connection, plans: Sequence[PlanMade]) -> None:
    """Write plans, numbered on from those there are."""
    before = tally(connection)
    for number, plan in enumerate(plans, start=before.plans + 1):
        if plan.number != number:
            raise ValueError(f"plan {plan.number} cannot follow plan {number - 1}")
        connection.execute(_ADD_PLAN, _plan_row(plan))
    write_tally(connection, version_of(connection), before.happenings, before.plans + len(plans))


def shorten_plan(connection: sqlite3.Connection, number: int, shorter: Callable[[str], str]) -> None:
    """Put the text of a plan into a shorter form, if there is one of this number.

    A row that is not as it was written is left alone, so that its damage still shows. Raises ``ValueError`` for a form
    that is no JSON.
    """
    asked = "SELECT number, at, after, text, checksum FROM plans WHERE number = ?"
    for row in connection.execute(asked, (number,)).fetchall():
        plan = whole_plan(row)
        if plan is not None:
            short = PlanMade.model_validate(plan.model_dump() | {"text": shorter(plan.text)})
            # the one change of a row that there is; REPLACE passes the triggers by, which are against all others
            connection.execute(_REPLACE_PLAN, _plan_row(short))


def _plan_row(plan: PlanMade) -> tuple[int, str, int, str, str]:
    at = plan.at.isoformat()
    content = (at.encode(), str(plan.after).encode(), plan.text.encode())
    return plan.number, at, plan.after, plan.text, checksum("plan", plan.number, *content)


def must_be_sound(connection: sqlite3.Connection) -> None:
    """Before a write: every happening as written, every page accounted for; else new rows might land on old ones.

    Raises ``DamageFound``.
    """
    bodies(connection)
    told = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if told != b"ok":
        raise DamageFound("pages", told.decode(errors="replace"))
    plans = connection.execute("SELECT count(*), coalesce(max(number), 0) FROM plans").fetchone()
    if plans != (tally(connection).plans,) * 2:
        raise DamageFound("plans", f"{plans[0]} plans, the last numbered {plans[1]}")
