"""One fault with repairs that need no parts, as the textbooks have them, and the cheapest order to try them in."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from optimiser.diagnosis.case import Case
from optimiser.diagnosis.evidence import Attempts, repair_of
from optimiser.diagnosis.groups import Believed, Group
from optimiser.diagnosis.labels import FIXES
from optimiser.model.evidence import Evidence
from optimiser.model.job import Fault, Repair
from optimiser.model.option import Option
from optimiser.orders import OwnLanded
from tests.frontier import frontier


def case(odds, repairs, checks=(), access=None):
    """``repairs``: id -> (direct price, cure by cause, access ids)."""
    rows = tuple(Repair(id=r, cures=cures, price_minor=price) for r, (price, cures, *_) in repairs.items())
    fault = Fault(id="f", severity="minor", causes=odds, something_else=0, check=checks, repair=rows)
    options = [
        Option(fault="f", repair=r, by_workshop=False, lines=(), direct_minor=price, minutes=0,
               access=tuple(opened), chance=0, days=0)
        for r, (price, _, *opened) in repairs.items()
    ]  # fmt: skip
    return Case(fault, posterior(fault).chances, options, checks, OwnLanded({}), access=access or {})


def order(given):
    """The order of repairs in the cheapest route of the greatest chance, and its expected cost."""
    found = frontier(given, FIXES)
    route = found.route(found.points[-1])
    names, node = [], route.first
    while node.do == "attempt":
        names.append(node.option.repair)
        node = node.then[-1].then
    return names, route


def kept_sound(fault, belief, entries, repair, piece):
    """The chance that a piece kept from failed attempts is sound; ``belief`` is over the causes after ``entries``."""
    return Attempts(repair_of(fault, repair), entries).sound(belief, piece)


def posterior(fault: Fault, seen: Sequence[Evidence] = ()) -> Believed:
    """The belief about one fault without twins after everything seen on it.

    Raises ``ValueError`` where an entry names what the fault does not have.
    """
    return group_posteriors([fault], {fault.id: seen}, 0.0)[fault.id]


def group_posteriors(
    members: Sequence[Fault], seen: Mapping[str, Sequence[Evidence]], strength: float, still_open: Collection[str] = ()
) -> dict[str, Believed]:
    """The belief about each member of a twin group, by fault id, after everything seen on all of them.

    ``seen`` is by fault id; ``strength`` in [0, 1]. A member in ``still_open`` that may have been cured with another
    one is believed not to have been, until something was said of it. Raises ``ValueError`` where the members' causes or
    odds differ or an entry names what its fault does not have.
    """
    return Group(members, seen, strength, still_open).standings()
