"""What routes share with those of other faults, spelt out from their marks."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import NamedTuple

from optimiser.diagnosis.routes import Row
from optimiser.diagnosis.shares import AHEAD, MINIMUM, ORDER, OWN_ACCESS, PRICE, STOCK, Marks, Share, units_of
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote


class Shared(NamedTuple):
    """What a route shares with others, spelt out: ``certain`` lines with those bought ``ahead``, and its marks.

    ``order`` is a sort key made of it, whatever its quotes' lines are.
    """

    certain: tuple[Line, ...]
    ahead: tuple[str, ...]
    units: tuple[tuple[str, int], ...]
    order: tuple[object, ...]
    suppliers: frozenset[str]
    access: frozenset[str]
    own_access: frozenset[str]
    relied: frozenset[str]
    packs: Mapping[str, int]
    deposits_minor: int

    @classmethod
    def of(
        cls,
        certain: tuple[Line, ...],
        ahead: tuple[Line, ...],
        shares: Collection[Share],
        quotes: Mapping[str, Quote],
    ) -> Shared:
        """Of the lines that its own first attempt buys, those bought ahead, and the shares that it is marked with.

        ``quotes`` are those that shares may name, by id.
        """
        lines, kinds = (*certain, *ahead), defaultdict[str, list[str]](list)
        for share in shares:
            kinds[share.kind].append(share.name)
        sure = frozenset(x.quote.supplier for x in lines if x.quote.supplier is not None)
        return cls(
            certain=lines,
            ahead=tuple(x.quote.id for x in ahead),
            units=units_of(lines),
            order=_order(certain, ahead, shares, quotes),
            suppliers=sure.union(kinds[ORDER]),
            access=frozenset(kinds[PRICE]),
            own_access=frozenset(kinds[OWN_ACCESS]),
            relied=frozenset(kinds[MINIMUM]) - sure,
            packs=Counter(kinds[STOCK]),
            deposits_minor=sum(x.quote.deposit_minor * x.units for x in ahead),
        )


def _order(
    certain: Sequence[Line], ahead: Sequence[Line], shares: Iterable[Share], quotes: Mapping[str, Quote]
) -> tuple[object, ...]:
    """What a route takes as a sort key.

    Pieces that are sure share packs with other faults', so of routes that come to the same the one with more of them is
    first, and with fewer that may turn out to be wanted by nobody.
    """
    spare = sum(line.units for line in ahead) - sum(line.units for line in certain)
    sure = sorted((line.quote.content, line.quote.id, line.units) for line in (*certain, *ahead))
    of = {name: quotes[name].content for name in {share.name for share in shares} if name in quotes}
    return spare, sure, sorted((s.kind, of.get(s.name, ()), s.name, s.packs) for s in shares)


class Sharing:
    """Spells out what routes share, once for all of them with the same certain lines and marks."""

    def __init__(self, marks: Marks, options: Iterable[Option], topping: Mapping[str, Quote]) -> None:
        """``options`` are those of the fault, ``topping`` the quotes that may top an order up, by id."""
        self.marks, self.known = marks, dict[tuple[object, ...], Shared]()
        self.quotes = {**topping, **{line.quote.id: line.quote for option in options for line in option.lines}}

    def of(self, route: Row) -> Shared:
        marks = route.point.marks
        name = (marks, *((line.quote.id, line.units, line.wanted) for line in route.certain))
        if name not in self.known:
            self.known[name] = Shared.of(route.certain, self._ahead(marks), self.marks.named(marks), self.quotes)
        return self.known[name]

    def _ahead(self, marks: int) -> tuple[Line, ...]:
        """What a route with these marks buys ahead: of each quote the most that an attempt wants."""
        if not marks & self.marks.bought_ahead:
            return ()
        pieces = Counter(share.name for share in self.marks.named(marks) if share.kind == AHEAD)
        return tuple(Line(quote=self.quotes[name], units=n, wanted=n) for name, n in sorted(pieces.items()))
