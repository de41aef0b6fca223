"""Plans that were kept as the JSON that people are shown (format 1), put into today's shape.

Folders hold such plans from before plans were kept as data. None is written any more.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from optimiser import money

CANNOT_BE_READ = (TypeError, ValueError, KeyError, AttributeError)


def translated(document: Mapping[str, Any], shown: Mapping[str, Any]) -> dict[str, Any]:
    """The document as it would be kept today; what cannot be made out of ``shown`` is left out."""
    job = shown.get("job")
    try:
        currency = money.Currency.of(str(job["currency"]) if isinstance(job, dict) else "")
    except CANNOT_BE_READ:
        currency = money.Currency(money.NO_CURRENCY, 2)
    steps = [*_fault_steps(shown, currency), *_order_steps(shown, currency)]
    rest = {key: value for key, value in document.items() if key != "shown"}
    return rest | {"currency": currency.code, "steps": steps, "sums": _sums(shown, currency)}


def _sums(shown: Mapping[str, Any], currency: money.Currency) -> dict[str, Any] | None:
    try:
        return {
            "remaining_minor": money.parse(shown["money"]["remaining"], currency),
            "unspent_minor": money.parse(shown["money"]["unspent"], currency),
            "fixes": float(shown["expected_count"]),
        }
    except CANNOT_BE_READ:
        return None


def _fault_steps(shown: Mapping[str, Any], currency: money.Currency) -> Iterator[dict[str, Any]]:
    for row in _rows(shown, "faults"):
        fault, node = str(row.get("id", "")), row.get("route")
        if isinstance(node, dict):
            yield from _tree_steps(fault, node, currency)
        elif row.get("repair") is not None:
            yield _step(row, "attempt", fault, str(row["repair"]), currency)


def _tree_steps(fault: str, node: Mapping[str, Any], currency: money.Currency) -> Iterator[dict[str, Any]]:
    kind = node.get("do")
    if kind in ("check", "attempt"):
        yield _step(node, str(kind), fault, str(node.get("id", "")), currency)
    then = node.get("then")
    for after in then.values() if isinstance(then, dict) else ():
        if isinstance(after, dict):
            yield from _tree_steps(fault, after, currency)


def _order_steps(shown: Mapping[str, Any], currency: money.Currency) -> Iterator[dict[str, Any]]:
    for order in _rows(shown, "orders"):
        for line in _rows(order, "lines"):
            piece = _piece(line | {"supplier": order.get("supplier")}, currency)
            if piece is not None:
                yield {"number": line.get("step"), "kind": "order", "pieces": [piece]}


def _step(row: Mapping[str, Any], kind: str, fault: str, name: str, currency: money.Currency) -> dict[str, Any]:
    pieces = [piece for part in _rows(row, "parts") if (piece := _piece(part, currency)) is not None]
    return {"number": row.get("step"), "kind": kind, "fault": fault, "id": name, "pieces": pieces}


def _piece(row: Mapping[str, Any], currency: money.Currency) -> dict[str, Any] | None:
    try:
        packs, pack = row.get("packs"), int(row.get("pack", 1))
        return {
            "part": str(row["part"]),
            "units": int(row["units"]) if packs is None else int(packs) * pack,
            "supplier": None if row.get("supplier") is None else str(row["supplier"]),
            "condition": str(row["condition"]),
            "quote": str(row["quote"]),
            "ref": str(row.get("ref", "")),
            "price_minor": money.parse(row.get("price", "0"), currency),
            "deposit_minor": money.parse(row.get("deposit", "0"), currency),
            "pack": pack,
            "packs": None if packs is None else int(packs),
        }
    except CANNOT_BE_READ:
        return None


def _rows(row: Mapping[str, Any], name: str) -> list[dict[str, Any]]:
    found = row.get(name)
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []
