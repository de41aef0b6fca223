"""Which worker runs which test: those that share something dear stand together at the head of one worker's share.

xdist's ``worksteal`` hands each worker an equal run of the list, and lets one that has no more take from another's end.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

Item = TypeVar("Item")


def in_shares(items: Sequence[Item], shares: Callable[[Item], str], workers: int) -> list[Item]:
    """The items in an order that gives each worker the groups that fall to it first; all others stay in theirs."""
    by_group: dict[str, list[Item]] = {}
    for item in items:
        by_group.setdefault(shares(item), []).append(item)
    others, groups = by_group.pop("", []), [*by_group.values()]
    ordered, left = list[Item](), len(items)
    for worker in range(workers):
        size = left // (workers - worker)
        head = [item for group in groups[worker::workers] for item in group]
        rest = max(0, size - len(head))
        ordered += [*head, *others[:rest]]
        del others[:rest]
        left -= size
    return ordered + others
