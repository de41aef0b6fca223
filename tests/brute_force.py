"""The mix by plain enumeration, written from the model page alone: every choice for every fault, every count of packs.

Slow on purpose and without anything of the program's own arithmetic. Only records and their content order are shared.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from datetime import timedelta
from fractions import Fraction
from itertools import product

from optimiser.model.job import Fault, Job
from optimiser.model.quotes import Quote

LICENSED = {"airbags-and-belts", "high-voltage", "gas", "refrigerant"}


@dataclass(frozen=True)
class Way:
    """One way to mend a fault: repair id, quotes with units, chance, and what it draws on."""

    fault: str
    repair: str
    lines: tuple[tuple[Quote, int], ...]
    chance: float
    direct: int
    minutes: int
    own: bool
    access: frozenset[str]

    @property
    def key(self):
        return (self.fault, self.repair, *(q.id for q, _ in self.lines))

    @property
    def content(self):
        return (tuple(q.content for q, _ in self.lines), self.repair, tuple(q.line for q, _ in self.lines))


@dataclass(frozen=True)
class Mix:
    """One complete mix with its figures; ``rank`` sorts better mixes first."""

    ways: tuple[Way | None, ...]
    packs: tuple[tuple[str, int], ...]
    values: tuple[int, ...]
    profit: int
    cash: int
    net: int
    last_stage: int
    minutes: int
    rank: tuple

    @property
    def keys(self):
        return {w.key for w in self.ways if w is not None}


def half_up(amount: Fraction) -> int:
    return math.floor(round(amount, 6) + Fraction(1, 2))


def plain(number: float) -> Fraction:
    return Fraction(str(number))


def in_steps(chance: Fraction, step: float) -> Fraction:
    """A chance to the nearest of the multiples of a step, the upper of two equally near; short of 1 never 1."""
    chance = round(chance, 9)
    if not step or chance < plain(step):
        return chance
    marks = [k * plain(step) for k in range(1, round(1 / step) + 1)]
    nearest = max(marks, key=lambda mark: (-abs(mark - chance), mark))
    return nearest if nearest < 1 or chance == 1 else 1 - plain(step)


def down_to_steps(chance: Fraction, step: float) -> Fraction:
    return max(k * plain(step) for k in range(round(1 / step) + 1) if k * plain(step) <= chance) if step else chance


def shelf(job: Job) -> list[Quote]:
    return [
        Quote(id=f"owned:{i + 1}", part=o.part, supplier=None, condition=o.condition, price_minor=0, stock=o.units,
              good_chance=o.good_chance)
        for i, o in enumerate(job.owned)
    ]  # fmt: skip


def offered(job: Job) -> list[Quote]:
    """Quotes that nothing bars; of rows alike in everything and without a stock limit the first line stands for all."""
    s = job.settings
    kept: list[Quote] = []
    for q in sorted([*shelf(job), *job.quotes], key=lambda q: (q.content, q.line)):
        kind = next((p.kind for p in job.parts if p.id == q.part), "free")
        barred = next((p.salvage_barred for p in job.parts if p.id == q.part), False)
        late = s.needed_by is not None and s.today + timedelta(days=q.lead_days) > s.needed_by
        lapsed = q.valid_until is not None and q.valid_until < s.today
        only_new = kind == "restraint" and q.condition != "new"
        merged = q.stock is None and any(k.content == q.content for k in kept)
        if not (merged or late or lapsed or only_new or (barred and q.condition == "salvage")):
            kept.append(q)
    return kept


def ways(job: Job, fault: Fault) -> list[Way]:
    s = job.settings
    rest = Fraction(fault.something_else) if fault.causes else Fraction(1)
    odds = sum(Fraction(o) for o in fault.causes.values())
    belief = {c: (1 - rest) * Fraction(o) / odds for c, o in fault.causes.items()} | {"something-else": rest}
    found = []
    for r in fault.repairs:
        own = r.by == "self"
        if own and fault.system in LICENSED - {x.value for x in s.licensed}:
            continue
        sound = sum(p * Fraction(r.cure(c)) for c, p in belief.items())
        if sound == 0:
            continue
        choices = []
        for part, wanted in sorted(r.parts.items()):
            size = next((p.renew_in for p in job.parts if p.id == part), 1)
            units = math.ceil(wanted / size) * size
            choices.append([(q, units) for q in offered(job) if (q.part == part and q.stock in (None,))
                            or (q.part == part and q.stock is not None and q.stock * q.pack >= units)])  # fmt: skip
        for lines in product(*choices):
            wait = max((q.lead_days for q, _ in lines), default=0) + r.lead_days
            if s.needed_by is not None and s.today + timedelta(days=wait) > s.needed_by:
                continue
            chance = sound * math.prod(Fraction(q.good_chance) for q, _ in lines)
            found.append(Way(fault.id, r.id, lines, float(chance), r.price_minor, r.minutes if own else 0, own,
                             frozenset(r.access)))  # fmt: skip
    return sorted(found, key=lambda w: w.content)


def baskets(job: Job, chosen: list[Way]) -> tuple[int, dict[str, int], int] | None:
    """Cheapest packs for the chosen ways: cash to suppliers, packs, trip minutes; None where stock forbids."""
    need: Counter[str] = Counter()
    quotes = {q.id: q for q in offered(job)}
    for w in chosen:
        for q, units in w.lines:
            need[q.id] += units
    for q_id, units in need.items():
        q = quotes[q_id]
        if q.stock is not None and units > q.stock * q.pack:
            return None
    cash, packs, trips = 0, {}, 0
    for supplier in sorted({quotes[q].supplier for q in need} - {None}):
        terms = job.supplier(supplier)
        asked = max(terms.minimum_order_minor, terms.free_over_minor or 0)
        own = sorted((q for q in quotes.values() if q.supplier == supplier), key=lambda q: (q.content, q.line))
        counts = []
        for q in own:
            low = math.ceil(need[q.id] / q.pack)
            high = max(low, math.ceil(asked / q.price_minor) if q.price_minor else low)
            counts.append(range(low, (high if q.stock is None else min(high, q.stock)) + 1))
        best = None
        for n in product(*counts):
            goods = sum(k * q.price_minor for k, q in zip(n, own))
            if goods < terms.minimum_order_minor:
                continue
            free = terms.free_over_minor is not None and goods >= terms.free_over_minor
            paid = goods + (0 if free else terms.postage_minor)
            paid += sum(k * q.pack * q.deposit_minor for k, q in zip(n, own))
            rank = (paid, tuple(reversed(n)))
            if best is None or rank < best[0]:
                best = (rank, {q.id: k for k, q in zip(n, own) if k})
        if best is None:
            return None
        cash += best[0][0]
        packs |= best[1]
        trips += terms.trip_minutes
    return cash, packs, trips


def mixes(job: Job, last: dict | None = None, surcharge: dict | None = None, chances: dict | None = None):
    """Every feasible mix; ``surcharge`` and ``chances`` by way key move one option's price or chance."""
    s, faults = job.settings, sorted(job.faults, key=lambda f: f.id)
    budget = max(0, job.pot.cap_minor - job.pot.purchase_minor - job.pot.spent_minor - job.pot.hold_back_minor)
    stages = []
    if s.safety_first:
        grave = [f for f in faults if f.severity == "dangerous"]
        stages += [{f.id for f in grave}] if grave else []
    for ways_taken in product(*[[*ways(job, f), None] for f in faults]):
        chosen = [w for w in ways_taken if w is not None]
        bought = baskets(job, chosen)
        if bought is None:
            continue
        goods, packs, trips = bought
        opened = {a for w in chosen for a in w.access}
        own_opened = {a for w in chosen if w.own for a in w.access}
        more = sum((surcharge or {}).get(w.key, 0) for w in chosen)
        cash = goods + sum(w.direct for w in chosen) + more
        cash += sum(a.price_minor for a in job.access if a.id in opened)
        minutes = trips + sum(w.minutes for w in chosen)
        minutes += sum(a.minutes for a in job.access if a.id in own_opened)
        if cash > budget or (job.time.hours is not None and minutes > job.time.hours * 60):
            continue
        net = cash - sum(q.deposit_minor * units for w in chosen for q, units in w.lines)
        importance = {f.id: Fraction(f.importance) for f in faults}
        p = {w.fault: Fraction((chances or {}).get(w.key, w.chance)) for w in chosen}
        whole = {f: in_steps(c, s.chance_step) for f, c in p.items()}
        safe = {f: down_to_steps(min(c, plain(s.good_enough)), s.safety_step) for f, c in whole.items()}
        values = [sum(half_up(importance[f] * c * 10**6) for f, c in safe.items() if f in st) for st in stages]
        gain = {f.id: f.sale_gain_minor for f in faults}
        profit = sum(half_up(gain[f] * c) for f, c in p.items()) - net
        profit -= half_up(Fraction(job.hour_worth_minor * minutes, 60))
        final = profit if s.aim == "profit" else sum(half_up(importance[f] * c * 10**6) for f, c in whole.items())
        values.append(final)
        by_fault = {w.fault: w.key for w in chosen}
        nearest = 0 if last is None else sum(by_fault.get(f.id) != last.get(f.id) for f in faults)
        suppliers = len({q.supplier for w in chosen for q, _ in w.lines} - {None})
        if s.most_suppliers is not None and suppliers > s.most_suppliers:
            continue
        last_stage = net if s.aim == "profit" else 60 * net + job.hour_worth_minor * minutes
        content = tuple((0, w.content) if w else (1,) for w in ways_taken)
        rank = (tuple(-v for v in values), last_stage, nearest, suppliers, minutes, content)
        yield Mix(ways_taken, tuple(sorted(packs.items())), tuple(values), profit, cash, net, last_stage, minutes, rank)


def best(job: Job, **moved) -> Mix:
    return min(mixes(job, **moved), key=lambda m: m.rank)
