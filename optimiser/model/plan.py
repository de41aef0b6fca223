"""The plan: for every fault a choice or none, the orders that follow, and where the money goes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from enum import StrEnum
from typing import Literal

from pydantic import Field

from optimiser.model.base import Record
from optimiser.model.job import Access, Fault, Job
from optimiser.model.option import Line, NotOffered, Option
from optimiser.model.outstanding import DepositDue, Unfit, once_fitted
from optimiser.model.quotes import Quote, Supplier
from optimiser.model.route import Route

SAFETY, ALL_FAULTS = "dangerous", "all-faults"
PROFIT = "profit"
NET_COST = "net-cost"
COST_AND_TIME = "cost-and-time"
"""Names of levels in a ``Selection`` that are money; the others are millionths of a fix.

The last stage is net cost, or net cost and the worth of the owner's time together where an hour is worth something.
"""
MONEY = (PROFIT, NET_COST, COST_AND_TIME)
LAST = (NET_COST, COST_AND_TIME)
LEAST_MONEY = "least-money"
"""The level of what is paid out, where that is asked to be as little as can be."""
SIXTIETHS = 60


def per_minor(stage: str) -> int:
    """How many units of a level of money make a minor unit: cost and time are counted in sixtieths of it."""
    return SIXTIETHS if stage == COST_AND_TIME else 1


class Outcome(Record):
    """How good the mix is known to be.

    ``better_at_most`` is the greatest amount by which another mix could beat this one in the first stage that was
    not closed: millionths of a fix, or minor units (the stages of money); 0 where proven.
    """

    proven: bool
    stage: str = ""
    unit: Literal["fixes", "money"] = "fixes"
    better_at_most: int = 0
    cheapest: bool = True
    """False where of very many routes only the surest and some that save were weighed: as good a mix may cost less."""


class Selection(Record):
    """The bare answer of the mix: a route for some faults, whole packs for some quotes.

    ``levels`` are the stages' values in their order (millionths of a fix, or minor units for profit), then net cost in
    minor units, or cost and time in sixtieths of one.
    """

    routes: tuple[Route, ...]
    packs: Mapping[str, int]
    levels: Mapping[str, int]
    outcome: Outcome

    def route_for(self, fault: str) -> Route | None:
        """The route taken for the fault, or None where it is left."""
        return next((route for route in self.routes if route.fault == fault), None)

    @property
    def options(self) -> tuple[Option, ...]:
        """What is tried first, for the faults that begin with trying."""
        return tuple(route.option for route in self.routes if route.option is not None)

    @property
    def certain(self) -> Iterator[Line]:
        """The lines that are sure to be fitted, of all faults."""
        return (line for route in self.routes for line in route.certain)


class Reason(StrEnum):
    """The short why of a choice, from facts at hand."""

    CHECK_FIRST = "check-first"
    TRY_FIRST = "try-first"
    IN_TURN = "in-turn"
    ONLY_WAY = "only-way"
    SUREST = "surest"
    SUREST_AND_CHEAPEST = "surest-and-cheapest"
    GOOD_ENOUGH = "good-enough"
    OUT_OF_REACH = "out-of-reach"
    DEARER_FOR_LITTLE = "dearer-for-little"
    SHARES_AN_ORDER = "shares-an-order"
    NOTHING_OFFERED = "nothing-offered"
    LEFT_AS_IT_IS = "left-as-it-is"
    TOO_DEAR = "too-dear"
    NO_MONEY = "no-money"
    NO_HOURS = "no-hours"
    NO_STOCK = "no-stock"
    NO_MORE_SUPPLIERS = "no-more-suppliers"
    OTHERS_FIRST = "others-first"
    NOT_WORTH_IT = "not-worth-it"


class Grounds(Record):
    """A reason with its figures.

    ``other`` is another option of the fault (for a fault that is left: its cheapest), ``cost_minor`` what that one
    costs more than the choice, each bought alone, the choice for ``alone_minor`` (for a fault that is left: what it
    would cost on top of the plan),
    ``chance`` what it gives more. Where a check comes first they are what it saves and gains; where trying comes
    before checking, what checking first would cost more and gain. ``limit`` is what keeps ``other`` out of reach, where
    it is known.
    """

    reason: Reason
    other: Option | None = None
    cost_minor: int = 0
    chance: float = 0.0
    limit: Reason | None = None
    alone_minor: int | None = None


class PartChoice(Record):
    """One part of a choice and its share of what is paid for it, postage included.

    ``ahead`` where it is only bought for what may come later.
    """

    part: str
    units: int
    wanted: int
    quote: Quote
    landed_minor: int
    ahead: bool = False


class CheckWorth(Record):
    """What a check adds to the plan: expected fixes (weighted) and expected net cost saved, against the best without.

    ``taken`` says whether the route makes it; ``left_out`` whether it was dropped as not worth its time, and then
    ``same_next`` whether the next step would be the same whatever it showed. Where one that is left out adds nothing,
    the figures are what making it first would add: nothing or less. ``earned_minor`` is for aim profit what the check
    adds to sale gain less cost and time.
    """

    check: str
    fixes: float
    saved_minor: float
    minutes: int
    taken: bool = False
    earned_minor: float = 0.0
    left_out: bool = False
    same_next: bool = False


class Verdict(Record):
    """The checks of one fault judged.

    ``rival`` is the check that the best route beginning with any would make first, and what that would add: given where
    the plan begins by trying, and does better by it.
    """

    checks: tuple[CheckWorth, ...] = ()
    rival: CheckWorth | None = None


class Beyond(Record):
    """The cheapest option of a fault that is more than a long shot, bought alone, which the plan does without."""

    option: Option
    cost_minor: int


class Choice(Record):
    """What is done about one fault. ``landed_minor`` is its share of the whole net cost; shares sum to it exactly.

    ``parts`` are the certain lines. ``own_minor`` is what the route is expected to cost beside all that is shared,
    ``postage_minor`` its share of first orders that are not sure to be placed. ``beyond`` is told of a dangerous fault
    for which the plan has no more than long shots.
    """

    fault: Fault
    route: Route | None
    parts: tuple[PartChoice, ...]
    access_minor: int
    postage_minor: int
    own_minor: int
    landed_minor: int
    why: Grounds
    checks: tuple[CheckWorth, ...] = ()
    beyond: Beyond | None = None

    @property
    def chance(self) -> float:
        """Chance of cure, 0 where the fault is left."""
        return 0.0 if self.route is None else self.route.chance

    @property
    def most_minor(self) -> int:
        """What the fault takes at the most: its share of what is shared, and the dearest path of its route."""
        shared = self.access_minor + self.postage_minor + sum(part.landed_minor for part in self.parts)
        return shared + (0 if self.route is None else self.route.cash_minor)

    @property
    def option(self) -> Option | None:
        """What is tried first; None where the fault is left or the route begins with a check."""
        return None if self.route is None else self.route.option


class OrderLine(Record):
    """Packs of one quote; ``fitted`` pieces are used, the rest is over."""

    quote: Quote
    packs: int
    fitted: int

    @property
    def goods_minor(self) -> int:
        """What the packs cost, deposits apart."""
        return self.quote.price_minor * self.packs

    @property
    def pieces(self) -> int:
        """Pieces in the packs."""
        return self.packs * self.quote.pack

    @property
    def deposits_minor(self) -> int:
        """Deposits paid now, on every piece."""
        return self.quote.deposit_minor * self.pieces


class Order(Record):
    """One order to one supplier. ``to_waive_minor``: goods still missing for free postage, None where there is none."""

    supplier: Supplier
    lines: tuple[OrderLine, ...]
    goods_minor: int
    postage_minor: int
    deposits_minor: int
    to_waive_minor: int | None

    @property
    def total_minor(self) -> int:
        """What is paid to the supplier now."""
        return self.goods_minor + self.postage_minor + self.deposits_minor


class Purse(Record):
    """Where the pot goes, in minor units: ``orders + direct + deposits + fallbacks + unspent = remaining``.

    ``fallbacks_minor`` is what is kept for later steps: the worst case of all routes less what is sure to be paid.
    ``net_minor`` is what the plan is expected to cost: deposits and refunds back, fallbacks as likely as they are.
    """

    cap_minor: int
    committed_minor: int
    hold_back_minor: int
    remaining_minor: int
    orders_minor: int
    direct_minor: int
    deposits_minor: int
    deposits_due_minor: int
    fallbacks_minor: int
    unspent_minor: int
    net_minor: int

    @property
    def cash_minor(self) -> int:
        """The most that this plan can pay out."""
        return self.orders_minor + self.direct_minor + self.deposits_minor + self.fallbacks_minor


class Leftover(Record):
    """Pieces bought and not fitted."""

    part: str
    units: int


class Remark(StrEnum):
    """Something that the plan must say beside its figures."""

    OVERSPENT = "overspent"
    HELD_BACK_SPENT = "held-back-spent"
    DANGEROUS_TRIED = "dangerous-tried"
    SAFETY_OFF = "safety-off"
    PROTECTION_LIFTED = "protection-lifted"
    PROTECTION_FREED = "protection-freed"
    KIND_NOT_SAID = "kind-not-said"
    SAFETY_PART_USED = "safety-part-used"
    LICENCE_CLAIMED = "licence-claimed"
    SUPPLIER_NOT_LISTED = "supplier-not-listed"
    JOINS_AN_ORDER = "joins-an-order"
    PART_NOT_NAMED = "part-not-named"
    NEEDED_BY_PAST = "needed-by-past"
    SET_ROUNDED = "set-rounded"
    SET_INCOMPLETE = "set-incomplete"
    ALIKE_QUOTES = "alike-quotes"
    SAME_AXLE = "same-axle"
    NO_CURRENCY = "no-currency"
    ROUGH_PRICES = "rough-prices"
    ROUGH_WORK = "rough-work"
    NOT_QUOTED = "not-quoted"
    PROFIT_WITHOUT_GAIN = "profit-without-gain"
    TWIN_ALONE = "twin-alone"
    QUOTES_CUT = "quotes-cut"
    ROUTES_CUT = "routes-cut"
    CHECKS_CUT = "checks-cut"
    AHEAD_CUT = "ahead-cut"
    TIME_OVER = "time-over"
    CHECKS_UNJUDGED = "checks-unjudged"
    ENTRIES_CLASH = "entries-clash"
    ENTRY_MISFITS = "entry-misfits"
    CURED_TOO = "cured-too"
    CAUSES_SHARED = "causes-shared"
    SINGLE_CAUSE = "single-cause"


class FirstCheck(Record):
    """A check that comes before any order: what it is worth, and the minutes with what must be opened for it.

    ``worth`` is in fixes: those gained, and the money saved as a share of what remains (a check must gain the same
    share of either to be worth its time). ``also`` are other open faults that the same check tells of; what it is worth
    is the sum over those whose routes begin with it.
    """

    fault: str
    check: str
    also: tuple[str, ...] = ()
    minutes: int
    worth: float
    fixes: float
    saved_minor: float
    earned_minor: float = 0.0


class Odds(Record):
    """What is believed of one cause: as written, now, and after each result of the route's first check."""

    cause: str
    written: float
    now: float
    after: Mapping[str, float] = Field(default_factory=dict)


class Notice(Record):
    """A remark and what it is about: ids, amounts as text."""

    remark: Remark
    about: tuple[str, ...] = ()

    @classmethod
    def of_misfit(cls, unfit: Unfit) -> Notice:
        """The remark on a happening that names what the job does not hold."""
        return cls(remark=Remark.ENTRY_MISFITS, about=(str(unfit.number), unfit.kind, unfit.reason))


class SafetyCost(Record):
    """What safety first costs: the fixes that the plan without it would add, weighted and counted.

    ``without`` is the lower chance of each dangerous fault that would lose by it; ``kept_minor`` what the plan may take
    for these beyond what that plan would.
    """

    kept_minor: int
    fixes: float
    count: float
    without: Mapping[str, float]


class QuoteToGet(Record):
    """A part that the plan would buy at a rough price: nobody has quoted it.

    ``low_minor`` and ``high_minor`` are the ends of its range in these conditions, ``pieces`` those bought on the
    average, ``doubt_minor`` the width of the range times these.
    """

    part: str
    conditions: tuple[str, ...]
    low_minor: int
    high_minor: int
    pieces: float
    doubt_minor: int


class Plan(Record):
    """The whole answer. ``expected_fixes`` is weighted by importance, ``expected_count`` is not; both unrounded."""

    job: Job
    choices: tuple[Choice, ...]
    orders: tuple[Order, ...]
    purse: Purse
    access: tuple[Access, ...]
    minutes: int
    expected_minutes: float
    leftovers: tuple[Leftover, ...]
    not_offered: tuple[NotOffered, ...]
    notices: tuple[Notice, ...]
    cautions: Mapping[str, tuple[str, ...]]
    expected_fixes: float
    expected_count: float
    selection: Selection
    do_first: tuple[FirstCheck, ...] = ()
    odds: Mapping[str, tuple[Odds, ...]] = Field(default_factory=dict)
    numbering: Mapping[str, int] = Field(default_factory=dict)
    """Step numbers given before, by what the step is: a step that stays keeps its number."""
    what_if: bool = False
    """Whether nobody keeps it: then no step gets a new number, for nothing could be written down by it."""
    safety_cost: SafetyCost | None = None
    quotes_to_get: tuple[QuoteToGet, ...] = ()

    @property
    def outcome(self) -> Outcome:
        """How good the mix is known to be."""
        return self.selection.outcome

    @property
    def leaves_out_checks(self) -> bool:
        """Whether checks that could be made were dropped, since they gain less than the job asks of one."""
        return any(check.left_out for choice in self.choices for check in choice.checks)

    @property
    def minutes_unsaid(self) -> tuple[tuple[str, str], ...]:
        """Own repairs that may be tried, by fault and id, of which nobody said how long they take."""
        attempts = (step.option for route in self.selection.routes for step in route.attempts)
        return tuple(dict.fromkeys((one.fault, one.repair) for one in attempts if one.minutes_unsaid))

    @property
    def profit_minor(self) -> int | None:
        """For aim profit what the sale gains less net cost and the owner's time; None otherwise."""
        return self.selection.levels.get(PROFIT)

    @property
    def deposits_back(self) -> tuple[DepositDue, ...]:
        """What comes back of deposits paid before this plan after its sure steps: surplus pieces lose theirs."""
        shelf, wanted = self.job.shelf, Counter[tuple[str, int]]()
        for route in self.selection.routes:
            first = route.option.lines if route.option is not None else ()
            for name, units in {line.quote.id: line.units for line in (*route.certain, *first)}.items():
                if name in shelf and shelf[name].bought is not None:
                    wanted[shelf[name].part, shelf[name].bought or 0] += units
        return once_fitted(self.job.deposits_due, self.job.on_order, wanted)

    def takes(self, option: Option) -> bool:
        """Whether this is what the plan tries first for its fault."""
        taken = self.selection.route_for(option.fault)
        return taken is not None and taken.first_step == option.key

    def choice(self, fault: str) -> Choice:
        """What is done about the fault. Raises ``KeyError`` for an id that the job does not have."""
        for choice in self.choices:
            if choice.fault.id == fault:
                return choice
        raise KeyError(fault)


class FaultInFull(Record):
    """One fault of a plan, with the cautions of all that its route touches, by title."""

    plan: Plan
    fault: str
    cautions: Mapping[str, tuple[str, ...]]

    @property
    def choice(self) -> Choice:
        """What the plan does about it."""
        return self.plan.choice(self.fault)


class SwitchPoints(Record):
    """How far the chosen option's price may rise and its chance fall before the mix would do without it.

    ``surcharge_minor``: what the option alone may cost more and stay the choice. ``chance``: what its chance may fall
    to; ``any_fall_loses`` where the least fall would already give it up. None is what the time did not allow. With
    fallbacks both are asked of the option wherever it stands. ``pack_minor``: the surcharge as a price of its one
    quote's pack, None where that would be another question.
    """

    surcharge_minor: int | None
    chance: float | None
    any_fall_loses: bool = False
    pack_minor: int | None = None


class Forced(Record):
    """The best plan in which one option of a fault is taken, come what may; None where no plan holds it.

    ``alone_minor`` is the option's net cost bought by itself; ``loses`` names the faults whose chance falls against
    the best plan; ``switch`` is set for the chosen option; ``known`` is False where the time ran out first.
    """

    option: Option
    alone_minor: int
    plan: Plan | None
    loses: tuple[str, ...] = ()
    switch: SwitchPoints | None = None
    known: bool = True


class Comparison(Record):
    """Every option of one fault side by side, the plan's own choice among them."""

    plan: Plan
    fault: Fault
    rows: tuple[Forced, ...]
