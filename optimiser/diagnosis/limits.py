"""What bounds the search of one fault: time, the labels that it makes, the effort where there is no time for more."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple, TypeVar

T = TypeVar("T")
Over = Callable[[], bool]
"""Asked again and again: whether there is no time left for a search."""


def never() -> bool:
    return False


class CutShortError(Exception):
    """A search that is of use only as a whole came to one of its limits."""


class TooMuchError(Exception):
    """A search makes more labels than it may: it has too many checks."""


class TimeOverError(Exception):
    """There was no time left in the middle of a search."""


def while_time(things: Iterable[T], over: Over) -> Iterator[T]:
    """One after the other; raises ``TimeOverError`` once it is ``over``."""
    for thing in things:
        if over():
            raise TimeOverError
        yield thing


class Effort(NamedTuple):
    """How far one fault is searched: states of leading steps, sets with one more action, attempts along a path."""

    opening: int
    moves: int
    attempts: int


SHORT, LEAST = Effort(30, 300, 2), Effort(1, 1, 1)
"""A check or two and one fallback; every option once, no check before it."""
