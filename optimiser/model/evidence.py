"""What was seen on a fault: findings, attempts that did not cure, and the one that did."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """A check was made and showed this result."""

    check: str
    result: str


@dataclass(frozen=True)
class ItIs:
    """The cause was seen to be this one."""

    cause: str


@dataclass(frozen=True)
class ItIsNot:
    """The cause was seen not to be this one."""

    cause: str


@dataclass(frozen=True)
class Piece:
    """What was fitted for one part line; ``name`` tells one piece from another, ``good`` is its chance of soundness."""

    name: str
    good: float


@dataclass(frozen=True)
class FailedAttempt:
    """A repair was tried with these pieces and did not cure."""

    repair: str
    pieces: tuple[Piece, ...] = ()


@dataclass(frozen=True)
class Cured:
    """A repair was tried with these pieces and cured: it suits the cause, and every piece is sound."""

    repair: str
    pieces: tuple[Piece, ...] = ()


Evidence = Finding | ItIs | ItIsNot | FailedAttempt | Cured
