"""The job as a person writes it down: the money, the time, the faults and what could mend them.

Field aliases are the keys of ``job.toml``; amounts are minor units of the job's currency, minutes are whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from optimiser.chances import steps_in
from optimiser.model.base import AtLeastOne, Chance, Count, Id, Minor, Positive, Record, no_key
from optimiser.model.evidence import Cured, Evidence
from optimiser.model.outstanding import DepositDue, OnOrder, Unfit
from optimiser.model.quotes import Condition, Quote, QuoteIndex, Supplier, looked_up
from optimiser.money import Currency

HOURS_A_POT = 50
"""An hour is worth the pot less the purchase by so much, where nothing is said (invented, no published source)."""
SOMETHING_ELSE = "something-else"
"""The cause that always exists: none of those listed."""


class Severity(StrEnum):
    """The three groups of Directive 2014/45/EU, article 7(2)."""

    MINOR = "minor"
    MAJOR = "major"
    DANGEROUS = "dangerous"

    @property
    def rank(self) -> int:
        """0 for the gravest: what is sorted by it stands gravest first."""
        return (Severity.DANGEROUS, Severity.MAJOR, Severity.MINOR).index(self)


class LicensedSystem(StrEnum):
    """Systems on which the owner works only if the job says that they are licensed for it."""

    AIRBAGS_AND_BELTS = "airbags-and-belts"
    HIGH_VOLTAGE = "high-voltage"
    GAS = "gas"
    REFRIGERANT = "refrigerant"


NEVER_SALVAGE_KINDS = frozenset({
    "friction", "brake-hydraulic", "steering", "tyre", "fuel-or-gas-hose", "restraint", "coupling-or-lifting",
    "other-safety",
})  # fmt: skip
"""Kinds of part that are not bought used unless the job lifts the rule (common practice, no published source)."""
ONLY_NEW_KIND = "restraint"
"""The kind that is never anything but new, whatever the job says."""
LICENSED_BY_KIND = {ONLY_NEW_KIND: LicensedSystem.AIRBAGS_AND_BELTS.value}
"""The licensed system that work with parts of a kind belongs to, whatever system the fault names."""


def _whole_part(step: float) -> float:
    if step:
        steps_in(step)
    return step


Step = Annotated[Chance, AfterValidator(_whole_part)]
"""A step in which chances count: 1/n, or 0 for no steps."""


class Settings(Record):
    """The table ``[job]``."""

    title: str = ""
    currency: str = "XXX"
    safety_first: bool = True
    good_enough: Chance = 0.80
    safety_step: Step = 0.2
    chance_step: Step = 0.01
    most_suppliers: AtLeastOne | None = None
    aim: Literal["fixes", "profit"] = "fixes"
    fallbacks: bool = True
    most_attempts: Annotated[AtLeastOne, Field(le=20)] = 3
    check_must_gain: Chance = 0.005
    today: date | None = None
    needed_by: date | None = None
    licensed: tuple[LicensedSystem, ...] = ()
    twin_strength: Chance = 0.5


class Pot(Record):
    """The table ``[money]``: the whole pot and what of it is gone or kept back."""

    cap_minor: Annotated[Minor, Field(alias="cap")]
    purchase_minor: Annotated[Minor, Field(alias="purchase")] = 0
    spent_minor: Annotated[Minor, Field(alias="spent")] = 0
    hold_back_minor: Annotated[Minor, Field(alias="hold_back")] = 0
    sale_as_it_stands_minor: Annotated[Minor | None, Field(alias="sale_as_it_stands")] = None
    hour_worth_minor: Annotated[Minor | None, Field(alias="hour_worth")] = None
    recorded_minor: int = no_key(0)
    """What the record's happenings drew on the pot, less what came back; no key of ``job.toml``."""

    @property
    def committed_minor(self) -> int:
        """What is already gone: the purchase, what was spent before the record began, and what it holds."""
        return self.purchase_minor + self.spent_minor + self.recorded_minor

    @property
    def remaining_minor(self) -> int:
        """What is left to plan with; below zero where the cap is already passed."""
        return self.cap_minor - self.committed_minor - self.hold_back_minor


class Time(Record):
    """The table ``[time]``: the owner's hours, if they are limited."""

    hours: Annotated[float, Field(ge=0, le=100_000)] | None = None

    @property
    def minutes(self) -> int | None:
        """The owner's whole minutes, or None for no limit."""
        return None if self.hours is None else int(self.hours * 60 + 1e-9)


class Solve(Record):
    """The table ``[solve]``: which solver, how many seconds it may take, whether what took long is kept."""

    solver: Literal["auto", "highs", "cbc"] = "auto"
    seconds: Annotated[float, Field(gt=0, le=86_400)] = 60
    cache: bool = True


class SheetWords(Record):
    """The table ``[words]``: what words in suppliers' sheets mean in this job; no plan depends on it.

    ``headings`` give the column that stands below one, ``conditions`` what a cell or a line by itself says of a part,
    ``cells`` any other cell or line in the words that the job reads.
    """

    headings: Mapping[str, str] = Field(default_factory=dict)
    conditions: Mapping[str, Condition] = Field(default_factory=dict)
    cells: Mapping[str, str] = Field(default_factory=dict)


class Access(Record):
    """What must come off first: its minutes and price are paid once for all work that names it."""

    id: Id
    title: str = ""
    minutes: Count = 0
    price_minor: Annotated[Minor, Field(alias="price")] = 0
    is_check: bool = no_key(False)
    """Whether it is no cover but a check that several faults list, made and paid once; no key of ``job.toml``."""


def _as_range(written: object) -> object:
    return (written,) if isinstance(written, str | int | Decimal) else written


def _low_and_high(ends: tuple[int, ...]) -> tuple[int, ...]:
    """Both ends of the range; one amount is both."""
    if len(ends) not in (1, 2):
        raise ValueError("one amount or two")
    if ends[0] > ends[-1]:
        raise ValueError("the lowest amount stands first")
    return (ends[0], ends[-1])


RoughPrice = Annotated[tuple[Minor, ...], BeforeValidator(_as_range), AfterValidator(_low_and_high)]
"""The lowest and the highest price at which a piece is ordinarily sold, in minor units."""

ODDS_IN_WORDS = {"likely": 6.0, "possible": 3.0, "rare": 1.0}
"""What the words stand for as odds (invented, no published source)."""


def _odds(written: object) -> object:
    return ODDS_IN_WORDS.get(written, written) if isinstance(written, str) else written


Odds = Annotated[Positive, BeforeValidator(_odds)]


class Part(Record):
    """What the job knows of a part: its kind, and whether it is renewed in sets; ``protection`` says what follows."""

    id: Id
    title: str = ""
    kind: str | None = None
    """As written, by its plain name; None where the words of the part decide."""
    renew_in: AtLeastOne = 1
    never_salvage: bool | None = None
    rough_price: Mapping[Condition, RoughPrice] = Field(default_factory=dict)
    """By condition what a piece costs by and large: planned with until somebody quotes the part."""
    implied: str | None = no_key(None)
    """The kind that its words imply wherever it is used; no key of ``job.toml``, like the next."""
    implied_where_named: tuple[str, ...] = no_key(())
    """Kinds of which its words imply the one that a system of the fault names."""

    def whole_sets(self, units: int) -> int:
        """So many pieces as they are renewed: up to a whole number of sets."""
        return -(-units // self.renew_in) * self.renew_in


class Owned(Record):
    """Parts on the shelf."""

    part: Id
    units: AtLeastOne = 1
    condition: Condition
    good_chance: Chance
    kept_from: Id | None = None
    """The fault on which it did not help; it is not offered there again."""
    lead_days: Count = 0
    """Days until it is here."""
    name: str = no_key("")
    """What it is planned under, where that is not its place in the list; no key of ``job.toml``."""
    bought: int | None = no_key(None)
    """The number of its purchase in the record; no key of ``job.toml``."""
    came_from: tuple[str, ...] = no_key(())
    """The quotes that it was bought by, as far as the sheets still hold them, and the rows of whose batch it is.

    No key of ``job.toml``."""


class Borrowed(Record):
    """A piece of another fault of the twin group, which is bad where that fault has this cause."""

    fault: Id
    cause: Id


class Check(Record):
    """A check of one fault: what it costs and how likely each result is under each cause, as written.

    ``borrows`` names a piece of a twin that is used. ``same_as`` (``fault.check``) names the check that this one is,
    ``pairs`` its results by the results of this one.
    """

    id: Id
    title: str = ""
    minutes: Count = 0
    cost_minor: Annotated[Minor, Field(alias="cost")] = 0
    access: tuple[Id, ...] = ()
    mind: tuple[Literal["driven", "engine-running", "live", "raised"], ...] = ()
    """What makes the check itself dangerous, as written and as its title says."""
    results: Mapping[Id, Mapping[Id, Chance]] = Field(min_length=1)
    borrows: Borrowed | None = None
    same_as: Id | None = None
    pairs: Mapping[Id, Id] = Field(default_factory=dict)


class Repair(Record):
    """One way to mend a fault. ``chance`` and ``cures`` are given sound parts; exactly one of them is set."""

    id: Id
    title: str = ""
    chance: Chance | None = None
    cures: Mapping[Id, Chance] | None = None
    parts: Mapping[Id, AtLeastOne] = Field(default_factory=dict)
    price_minor: Annotated[Minor, Field(alias="price")] = 0
    rough: bool = False
    """Whether the price is a guess: nobody has asked a workshop or a shop for it."""
    minutes: Count = 0
    by: Literal["self", "workshop"] = "self"
    lead_days: Count = 0
    access: tuple[Id, ...] = ()

    def cure(self, cause: str) -> float:
        """The chance that this repair cures the cause, given sound parts."""
        if self.chance is not None:
            return self.chance
        return (self.cures or {}).get(cause, 0.0)


def _several(words: object) -> object:
    """One word stands for a list of one, an empty one for none."""
    return ((words,) if words.strip() else ()) if isinstance(words, str) else words


FUEL = frozenset({"fuel", "petrol-vapour"})
GAS = frozenset({"gas"})
FIRE_SYSTEMS = FUEL | GAS
"""Systems of which a dangerous fault leaks what burns."""
SPARKS = frozenset({"driven", "engine-running", "live"})
"""What a check must not be beside fuel; gas is shut off at its bottle."""
GRAVE_SYSTEMS = FIRE_SYSTEMS | {
    "air-brakes", "airbags-and-belts", "brakes", "motorbike-brakes", "high-voltage", "machine-steering",
    "steering-and-springs", "tyres",
}  # fmt: skip
"""Systems of which a fault is dangerous until somebody says otherwise."""
SPARKING_SYSTEMS = frozenset(
    {"engine", "exhaust", "heating", "high-tension-ignition", "lithium-batteries", "mains", "starting-and-charging",
     "high-voltage", "wiring"}
)  # fmt: skip
"""Systems of which the work makes sparks, heat or flames."""


class Fault(Record):
    """Something wrong: how grave, what may be behind it, what could find out, what could mend it."""

    id: Id
    title: str = ""
    severity: Severity
    importance: Annotated[Positive, Field(ge=1e-6, le=1000)] = 1.0
    sale_gain_minor: Annotated[Minor, Field(alias="sale_gain")] = 0
    systems: Annotated[tuple[str, ...], Field(alias="system"), BeforeValidator(_several)] = ()
    kinds: tuple[str, ...] = no_key(())
    """Kinds of part that its systems name; no key of ``job.toml``."""
    twin: Id | None = None
    shared_causes: tuple[Id, ...] = ()
    something_else: Annotated[Chance, Field(lt=1)] = 0.05
    causes: Mapping[Id, Odds] = Field(default_factory=dict)
    checks: Annotated[tuple[Check, ...], Field(alias="check")] = ()
    repairs: Annotated[tuple[Repair, ...], Field(alias="repair")] = ()

    def most_of(self, part: Part) -> int:
        """The most pieces of a part that one of its repairs takes, in whole sets."""
        return max((part.whole_sets(r.parts[part.id]) for r in self.repairs if part.id in r.parts), default=0)

    @property
    def may_catch_fire(self) -> bool:
        """Whether fuel or gas may be about until it is mended."""
        return self.severity == Severity.DANGEROUS and not FIRE_SYSTEMS.isdisjoint(self.systems)

    @property
    def turn(self) -> tuple[int, bool]:
        """A sort key: the gravest first, and of dangerous faults those with fuel or gas: no switch is worked before."""
        return self.severity.rank, not self.may_catch_fire

    @model_validator(mode="before")
    @classmethod
    def _weighed(cls, row: Any) -> Any:
        """Where nothing is said a grave fault counts twice as much as a minor one."""
        grave = isinstance(row, Mapping) and row.get("severity") in (Severity.DANGEROUS, Severity.MAJOR)
        return {"importance": 2.0, **row} if grave else row


def needed_parts(faults: Iterable[Fault]) -> set[str]:
    """The parts that a repair of these faults needs."""
    return {part for fault in faults for repair in fault.repairs for part in repair.parts}


class Job(Record):
    """Everything that was read, ready to plan with: no defaults left open, every id resolved."""

    settings: Annotated[Settings, Field(alias="job")] = Settings()
    pot: Annotated[Pot, Field(alias="money")]
    time: Time = Time()
    solve: Solve = Solve()
    words: SheetWords = SheetWords()
    access: tuple[Access, ...] = ()
    parts: Annotated[tuple[Part, ...], Field(alias="part")] = ()
    owned: tuple[Owned, ...] = ()
    faults: Annotated[tuple[Fault, ...], Field(alias="fault")] = ()
    quotes: tuple[Quote, ...] = ()
    suppliers: tuple[Supplier, ...] = ()
    seen: Mapping[str, tuple[Evidence, ...]] = Field(default_factory=dict)
    """What was seen on each fault so far, the cured ones too. Like all below it no key of ``job.toml``."""
    closed: tuple[Fault, ...] = no_key(())
    """Faults that are cured: they are not planned any more, and what was seen on them still tells of their twins."""
    left: Mapping[str, int] = no_key({})
    """Open faults that the person leaves as they are, each with the entry that says so: no plan works on them."""
    untested: Mapping[str, tuple[str, ...]] = no_key({})
    """Cured faults with the systems that their owner worked on without a licence, and nobody licensed has tested."""
    unproven: tuple[str, ...] = no_key(())
    """Cured dangerous faults that no workshop put right, of which no test by somebody licensed is told."""
    tried_on: Mapping[str, tuple[str, ...]] = no_key({})
    """By fault the quotes and shelf rows that an attempt there has used up: they are not offered there again."""
    on_order: tuple[OnOrder, ...] = no_key(())
    """What was bought and is not fitted; the pieces stand among ``owned`` too."""
    deposits_due: tuple[DepositDue, ...] = no_key(())
    """What comes back of deposits paid before this plan."""
    unfit: tuple[Unfit, ...] = no_key(())
    """Happenings that name what the job does not hold."""
    renewed: Mapping[str, Mapping[str, float]] = no_key({})
    """By fault and cause the chance that the piece is sound which was fitted in place of the bad one and stayed on."""

    @property
    def called_by(self) -> str:
        """The words that it is called by, and its faults."""
        return " ".join((self.settings.title, *(fault.title or fault.id for fault in self.faults)))

    @property
    def is_unsafe(self) -> bool:
        """Whether a dangerous fault is open."""
        return any(fault.severity == Severity.DANGEROUS for fault in self.faults)

    def must_wait(self, fault_id: str, check: Check) -> bool:
        """Whether something dangerous that is open forbids a fault's check for now."""
        return self.waits_for_a_test(check) or self.waits_for_fuel(fault_id, check)

    def waits_for_a_test(self, check: Check) -> bool:
        """Whether the vehicle is driven for it while something dangerous is open, which a licensed test alone may."""
        return self.is_unsafe and "driven" in check.mind

    def waits_for_fuel(self, fault_id: str, check: Check) -> bool:
        """Whether a fault's check runs the engine or works a live circuit while another's fuel may be about."""
        return self._leaks_beside(fault_id, FUEL) and not SPARKS.isdisjoint(check.mind)

    def wants_gas_shut(self, fault_id: str, check: Check) -> bool:
        """Whether a fault's check runs the engine or works a live circuit while another fault leaks gas."""
        return self._leaks_beside(fault_id, GAS) and not SPARKS.isdisjoint(check.mind)

    def _leaks_beside(self, fault_id: str, systems: Set[str]) -> bool:
        return any(f.id != fault_id and f.may_catch_fire and not systems.isdisjoint(f.systems) for f in self.faults)

    @property
    def hour_worth_minor(self) -> int:
        """What an hour of the owner is worth: as said, else a fiftieth of the pot less the purchase (invented).

        For aim profit 0 unless said.
        """
        said = self.pot.hour_worth_minor
        if said is not None or self.settings.aim == "profit":
            return said or 0
        return max(0, (2 * (self.pot.cap_minor - self.pot.purchase_minor) + HOURS_A_POT) // (2 * HOURS_A_POT))

    @property
    def currency(self) -> Currency:
        """The job's currency."""
        return Currency.of(self.settings.currency)

    @property
    def shelf(self) -> dict[str, Owned]:
        """The rows of the shelf by what they are planned under: their name, else ``owned:`` and their place."""
        return {owned.name or f"owned:{number}": owned for number, owned in enumerate(self.owned, start=1)}

    @property
    def sheets(self) -> QuoteIndex:
        """The quotes, looked up."""
        return looked_up(self.quotes)

    @property
    def titles_of_parts(self) -> dict[str, str]:
        """The title of every part that a repair needs, that lies on the shelf, that is quoted or has a row, by id."""
        named = needed_parts((*self.faults, *self.closed))
        named |= self.sheets.by_part.keys() | {owned.part for owned in self.owned}
        titles = {part.id: part.title for part in self.parts}
        return {name: titles.get(name, "") for name in sorted(named | set(titles))}

    def mended_twin(self, fault_id: str) -> Fault | None:
        """A closed twin of a fault that a repair cured, the first as listed."""
        twin = next((f.twin for f in (*self.faults, *self.closed) if f.id == fault_id), None)
        mended = (f for f in self.closed if any(isinstance(seen, Cured) for seen in self.seen.get(f.id, ())))
        return next((f for f in mended if twin is not None and f.twin == twin and f.id != fault_id), None)

    def part(self, part_id: str) -> Part:
        """The part's row, or the defaults for a part that is named without one."""
        return next((p for p in self.parts if p.id == part_id), Part(id=part_id))

    def supplier(self, supplier_id: str) -> Supplier:
        """The supplier's terms, or the defaults for one that is quoted but not listed."""
        return next((s for s in self.suppliers if s.id == supplier_id), None) or Supplier(id=supplier_id)
