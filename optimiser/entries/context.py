"""What words are understood against: the job as it stands, its record, and the steps of the plan last shown."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any, TypeVar

from pydantic import ValidationError

from optimiser import money, names
from optimiser.calls import call
from optimiser.entries import step_numbers
from optimiser.entries.naming import Ask, Wrong, nobody, pick
from optimiser.errors import CallError
from optimiser.model import events, protection
from optimiser.model.job import Fault, Job, Repair, Severity
from optimiser.model.kept import Step
from optimiser.model.quotes import Condition
from optimiser.state import Moment
from optimiser.state.history import KeptPlan
from optimiser.text import in_shell

H = TypeVar("H", bound=events.EventHead)
AT_A_STANDSTILL = (
    "at a standstill first, then slowly where nobody can be hurt; where your law asks for a test or an inspection, have"
    " it done before any use."
)
"""How what was dangerous is proved before it is used again."""


@dataclass(frozen=True)
class Desk:
    """Everything that words are understood against; ``at`` and ``source`` are written into every happening.

    ``wrong`` gathers what is wrong with the words, ``notes`` what the person should know though nothing is wrong.
    """

    now: Moment
    at: datetime
    source: str
    ask: Ask = nobody
    wrong: Wrong = field(default_factory=Wrong)
    notes: list[str] = field(default_factory=list)

    @cached_property
    def job(self) -> Job:
        """The job as it stands at ``at``."""
        return self.now.job_at(self.at)

    def mind_used(self, part: str, condition: Condition) -> None:
        """Tell of a piece that safety forbids to fit: what a person did is written down, and not passed over."""
        users = protection.users(self.job.faults).get(part, ())
        if protection.never_fits(self.job.part(part), users, condition):
            self.notes.append(
                f"Safety hangs on {part}: no plan fits a {condition} one. Send it back, or do not use the vehicle"
                " until a licensed test has passed it."
            )

    def mind_enough(self, part: str) -> None:
        """Tell that what is bought was there already, as many as all open faults together may want."""
        had = [row for row in self.job.owned if row.part == part and row.kept_from is None]
        row, units = self.job.part(part), sum(row.units for row in had)
        wanted = sum(fault.most_of(row) for fault in self.job.faults)
        if had and units >= wanted:
            numbers = [str(row.bought) for row in had if row.bought is not None]
            where = f" (bought, entry {', '.join(numbers)})" if numbers else ""
            self.notes.append(
                f"{units} x {part} is yours already{where}, and nothing open wants more than {wanted}: if you did not"
                " buy more, strike this."
            )

    def mind_unlicensed(self, fault: Fault, repair: Repair) -> None:
        """Tell of work of one's own that only the licensed do: it counts as it is written down."""
        for system in protection.own_unlicensed(self.job, fault, repair):
            self._mind_untested(fault, f"Work on {system} is for those licensed for it")

    def mind_before_use(self, fault: Fault, repair: Repair) -> None:
        """Tell how what was dangerous and is cured by one's own hand comes back into use."""
        own = repair.by == "self" and not protection.own_unlicensed(self.job, fault, repair)
        if own and fault.severity == Severity.DANGEROUS:
            self.notes.append(f"{fault.title or fault.id} was dangerous: prove its repair {AT_A_STANDSTILL}")

    def mind_gone(self, fault: Fault) -> None:
        """Tell what it means that a fault came right and nothing written down cured it."""
        twin = self.job.mended_twin(fault.id)
        how = "by itself" if twin is None else f"once its twin was mended ({twin.title or twin.id})"
        self.notes.append(
            f"Taken to have come right {how}. If something that was done on it cured it, strike this and say:"
            f" {call('fitted')} {in_shell(fault.id)} REPAIR cured"
        )
        if fault.severity == Severity.DANGEROUS:
            self.notes.append(
                f"{fault.title or fault.id} is dangerous, and what comes right by itself may come back by itself: prove"
                f" it {AT_A_STANDSTILL}"
            )
        if systems := protection.licences_lacking(self.job, fault):
            self._mind_untested(fault, f"It is for those licensed for {' and '.join(systems)}")

    def _mind_untested(self, fault: Fault, why: str) -> None:
        typed = f"{call('found')} {in_shell(fault.id)} tested"
        self.notes.append(f"{why}: do not use it before one of them has tested it. After that: {typed}")

    def mind_money_back(self, number: int | None, units: int) -> None:
        """Tell what was paid for pieces that went back, where it is not all back, and how it is written down."""
        sold = self.purchases.get(number or 0)
        if sold is None or sold.currency != self.currency:
            return
        paid = self.paid_for(sold, units)
        if paid and self.money_back[number] < sold.cash_minor:
            refunded = call("refunded", in_shell(sold.part), "AMOUNT", "--entry", str(number))
            self.notes.append(
                f"{self.job.currency.text(paid)} {self.currency} was paid for what went back of entry {number}."
                f" Once the money is here: {refunded}"
            )

    @staticmethod
    def paid_for(sold: events.Purchase, units: int) -> int:
        """What so many pieces of a purchase took, deposits included and postage not."""
        return (2 * sold.price_minor * units + sold.pack) // (2 * sold.pack) + sold.deposit_minor * units

    def mind_said_again(self, same: Sequence[int]) -> None:
        """Tell of the last of the entries, if there are any, that say what is to be written down."""
        if same:
            self.notes.append(f"Entry {same[-1]} says the same already. If it is meant once: {call('strike')}")

    @property
    def last(self) -> events.PlanMade | None:
        """The plan last kept."""
        return self.now.plans.last

    @property
    def seen(self) -> KeptPlan | None:
        """The plan last shown, None where none is kept or the last one cannot be made out."""
        return self.now.plans.seen

    @property
    def standing(self) -> Iterator[events.Entry]:
        """The entries that count."""
        return events.standing(self.now.record)

    @cached_property
    def purchases(self) -> dict[int, events.Purchase]:
        """The purchases that count, by number."""
        return {
            entry.number: entry.happening for entry in self.standing if isinstance(entry.happening, events.Purchase)
        }

    @cached_property
    def money_back(self) -> Counter[int | None]:
        """What came back, in minor units, by the number of the purchase that it came for."""
        back = Counter[int | None]()
        for _, made, _ in self.standing:
            if isinstance(made, events.MoneyBack):
                back[made.bought] += made.amount_minor
        return back

    @cached_property
    def faults(self) -> dict[str, Fault]:
        """Every fault, open and cured, by id."""
        return {fault.id: fault for fault in (*self.job.faults, *self.job.closed)}

    def pick(
        self, word: str, known: Iterable[str], what: str, *, ask: Ask | None = None, whole: bool = False
    ) -> str | None:
        """The id that a word means among these, which may have titles; None as ``naming.pick`` has it."""
        titles = known if isinstance(known, Mapping) else dict.fromkeys(known, "")
        return pick(word, titles, what, self.wrong, ask or self.ask, whole=whole)

    def fault(self, word: str) -> Fault | None:
        """The fault that a word names, open or cured."""
        found = self.pick(word, {name: fault.title for name, fault in self.faults.items()}, "fault")
        return None if found is None else self.faults[found]

    def about(self, word: str) -> Fault | None:
        """The fault that is named, or that a step is about."""
        if not word.isdecimal() or word in self.faults:
            return self.fault(word)
        step = self.step(word, "check", "attempt")
        if step is not None and not step.fault:
            self.wrong.add(f"Step {word} is a line to order and about no one fault.", "Name the fault.")
            return None
        return None if step is None else self.fault(step.fault)

    def surely(self, word: str) -> Fault | None:
        """The fault that a word means; nothing is asked and nothing noted."""
        name = names.meant(word, {name: fault.title for name, fault in self.faults.items()}).name
        return None if name is None else self.faults[name]

    def is_cured(self, fault: Fault) -> bool:
        """Whether it is put right, as far as the record tells."""
        return any(cured.id == fault.id for cured in self.job.closed)

    def open_fault(self, word: str) -> Fault | None:
        """The fault that a word names, which must not be cured."""
        fault = self.fault(word)
        if fault is not None and self.is_cured(fault):
            self.wrong.add(f"{fault.id} is cured.", f"If it is back, say: {call('found')} {in_shell(fault.id)} is-back")
            return None
        return fault

    def step(self, word: str, *kinds: str) -> Step | None:
        """The step of this number, in the plan last shown or in an earlier one.

        A number that was another step of one of these ``kinds`` in an earlier plan is not guessed at.
        """
        number = step_numbers.said(word)
        known = self.known_step(number)
        if known is not None:
            return None if self._meant_another(known, kinds) else known
        if self.seen is None or self.last is None:
            self.wrong.add(
                "No plan that was shown is kept, so there are no step numbers yet.",
                f"Make one with: {call('plan')}. Or use names.",
            )
        else:
            self.wrong.add(
                f"There is no step {number} in the plan last shown (plan {self.last.number}), nor in one before it.",
                f"Its steps go up to {max(self.seen.steps, default=0)}; see them with: {call('plan')} --full",
            )
        return None

    def _meant_another(self, step: Step, kinds: Sequence[str]) -> bool:
        """Whether the number was another step in an earlier plan, which is noted with the words for either."""
        if self.seen is None or self.last is None:
            return False
        then = step_numbers.otherwise(step.number, self.now.plans, kinds)
        if then is not None:
            then_meant, now_means = (step_numbers.described(one, self.job.currency) for one in (then.step, step))
            self.wrong.add(
                f"Step {step.number} was {then_meant} in plan {then.plan}, and is {now_means} in plan"
                f" {self.last.number}: the two were made in the same moment.",
                f"For the former say: {step_numbers.typed(then.step, self.source, self.faults)};"
                f" for the latter: {step_numbers.typed(step, self.source, self.faults)}",
            )
        return then is not None

    def known_step(self, number: int) -> Step | None:
        """The step of this number, if there is one; nothing is noted."""
        plans = step_numbers.newest_first(self.now.plans)
        return next((kept.steps[number] for kept, _ in plans if number in kept.plain_steps), None)

    def is_gone(self, step: Step) -> bool:
        """Whether the step stands no more in the plan last shown."""
        return self.seen is None or step.number not in self.seen.steps

    def numbered_since(self, number: int) -> int:
        """The last happening before a step was first shown under this number."""
        plans = step_numbers.newest_first(self.now.plans)
        return min((made.after for kept, made in plans if number in kept.plain_steps), default=0)

    def amount(self, text: str | None, what: str) -> int | None:
        """An amount in minor units; None where it is not said, or is none (which is noted)."""
        if text is None:
            return None
        try:
            return money.given(text, self.job.currency)
        except CallError as error:
            self.wrong.add(f"{what} {error.found}", error.mend)
            return None

    def just_before(self, numbers: Sequence[int]) -> None:
        """Note what somebody else wrote down between this desk's reading and its entries of these numbers."""
        last = self.now.known
        if numbers and numbers[0] > last + 1:
            others = ", ".join(map(str, range(last + 1, numbers[0])))
            self.notes.append(
                f"Somebody else wrote down {others} in the same moment. If it is the same: {call('strike')}"
            )

    def made(self, kind: type[H], **fields: Any) -> H:
        """A happening of now. Raises ``WordsError`` where a word cannot be kept as it is, or anything is wrong yet."""
        try:
            made = kind.model_validate({"at": self.at, "source": self.source, **fields})
        except ValidationError as error:
            for one in error.errors(include_url=False, include_context=False):
                key = str(one["loc"][0]) if one["loc"] else "it"
                said = one["msg"].removeprefix("Value error, ")
                self.wrong.add(f"{key} {str(fields.get(key, ''))[:60]!r} cannot be written down.", f"{said}.")
        self.wrong.check()
        return made

    @property
    def currency(self) -> str:
        """The code of the job's currency."""
        return self.job.settings.currency

    @cached_property
    def titles_of_parts(self) -> Mapping[str, str]:
        """Every part that the job knows of, by id."""
        titles = {purchase.part: "" for purchase in self.purchases.values()} | self.job.titles_of_parts
        return {name: titles[name] for name in sorted(titles)}

    @cached_property
    def titles_of_suppliers(self) -> Mapping[str, str]:
        """Every supplier that the job or its record knows of, by id."""
        titles = {supplier.id: supplier.title for supplier in self.job.suppliers}
        named = {quote.supplier for quote in self.job.quotes if quote.supplier is not None}
        named |= {purchase.supplier for purchase in self.purchases.values()}
        return {name: titles.get(name, "") for name in sorted(named | set(titles))}

    def unpaid_access(self, names: tuple[str, ...]) -> int:
        """What the accesses cost that no happening so far has opened, in minor units: each is paid for once."""
        opened: set[str] = set()
        for entry in self.standing:
            opened.update(self._opened_by(entry.happening))
        prices = {access.id: access.price_minor for access in self.job.access}
        return sum(prices.get(name, 0) for name in dict.fromkeys(names) if name not in opened)

    def _opened_by(self, happening: events.EventHead) -> tuple[str, ...]:
        """The accesses that a happening needed."""
        if isinstance(happening, events.CheckMade | events.Fitting) and happening.fault in self.faults:
            fault = self.faults[happening.fault]
            if isinstance(happening, events.CheckMade):
                return next((c.access for c in fault.checks if c.id == happening.check), ())
            return next((r.access for r in fault.repairs if r.id == happening.repair), ())
        return ()
