"""What was seen on a fault: findings, attempts that did not cure, and the one that did."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Seen:
    """``number`` is that of its entry in the record, None for what stands in none; it tells no entry from another."""

    number: int | None = field(default=None, compare=False, kw_only=True)


@dataclass(frozen=True)
class Finding(Seen):
    """A check was made and showed this result.

    ``borrowed_good``: for a check that borrows a piece of a twin, the chance that this piece was sound where it had
    been renewed by then, 1 where that fault was cured; None where it was as it came.
    """

    check: str
    result: str
    borrowed_good: float | None = None


@dataclass(frozen=True)
class ItIs(Seen):
    """The cause was seen to be this one."""

    cause: str


@dataclass(frozen=True)
class ItIsNot(Seen):
    """The cause was seen not to be this one."""

    cause: str


@dataclass(frozen=True)
class Piece:
    """What was fitted for one part line; ``name`` tells one piece from another, ``good`` is its chance of soundness."""

    name: str
    good: float


@dataclass(frozen=True)
class FailedAttempt(Seen):
    """A repair was tried with these pieces and did not cure."""

    repair: str
    pieces: tuple[Piece, ...] = ()


@dataclass(frozen=True)
class Cured(Seen):
    """A repair was tried with these pieces and cured: it suits the cause, and every piece is sound."""

    repair: str
    pieces: tuple[Piece, ...] = ()


@dataclass(frozen=True)
class Works(Seen):
    """After a twin was cured this one works too, so its cause was one of those that the two have together."""

    causes: tuple[str, ...]


@dataclass(frozen=True)
class Still(Seen):
    """After a twin was cured this one is still as it was, so its cause is none of those that were cured for both."""

    causes: tuple[str, ...]


Evidence = Finding | ItIs | ItIsNot | FailedAttempt | Cured | Works | Still


@dataclass(frozen=True)
class OnTwin:
    """An attempt on a twin that counts here too, under the causes that the whole group has or none of it."""

    attempt: FailedAttempt | Cured
    causes: frozenset[str]


Tried = Evidence | OnTwin
"""What was seen on a fault, with what was tried for it on its twins."""
