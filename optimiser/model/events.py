"""What the record holds: one frozen record for each kind of thing that happens on a job, and the plans made.

Every happening carries its time (UTC) and its source, the verb or the import that wrote it. Money is in minor units and
names its currency, so that a happening can be read without the job. A happening says what was true on the day: a
purchase holds the whole quote, a piece its chance of being sound, whatever the sheets say later.
A new kind, or a new field of an old one, is a new version of the record (``record.layout``).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Annotated, Literal, NamedTuple

from pydantic import AfterValidator, AwareDatetime, Field

from optimiser.model.base import Id, Record
from optimiser.model.job import Severity
from optimiser.model.quotes import Condition, Quote
from optimiser.money import GREATEST_MINOR, Currency

MOST_SIGNS = 2000
"""Signs of any free text in the record."""
MOST_PLAN_SIGNS = 20_000_000
YEARS = range(1970, 9999)


def _to_utc(at: datetime) -> datetime:
    if at.year not in YEARS:
        raise ValueError(f"a year from {YEARS.start} to {YEARS.stop - 1} is expected")
    return at.astimezone(UTC)


def _known_currency(code: str) -> str:
    return Currency.of(code).code


def _is_json(text: str) -> str:
    try:
        json.loads(text)
    except RecursionError:
        raise ValueError("the lists and tables stand too deep in one another") from None
    return text


Utc = Annotated[AwareDatetime, AfterValidator(_to_utc)]
"""A moment with its offset from UTC; kept as UTC."""
Text = Annotated[str, Field(max_length=MOST_SIGNS)]
"""Free text, kept sign by sign as it came, control characters too: whoever shows it makes it printable."""
Source = Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[a-z][a-z0-9 -]*$")]
Code = Annotated[str, Field(max_length=3), AfterValidator(_known_currency)]
Amount = Annotated[int, Field(strict=True, ge=0, le=GREATEST_MINOR)]
Number = Annotated[int, Field(strict=True, ge=1, le=10**9)]
"""The running number of a happening or of a plan."""
Units = Annotated[int, Field(strict=True, ge=1, le=10**6)]
Days = Annotated[int, Field(strict=True, ge=0, le=10**6)]
Share = Annotated[float, Field(ge=0, le=1)]
Odds = Annotated[float, Field(gt=0, le=1e9)]


class EventHead(Record):
    """What every happening has: when it was written down, and by which verb or import."""

    at: Utc
    source: Source

    @property
    def cash_minor(self) -> int:
        """What it draws on the pot; below zero where money comes back."""
        return 0


class CheckMade(EventHead):
    """A check was made and showed this result; ``cost_minor`` is what making it cost."""

    kind: Literal["finding"] = "finding"
    fault: Id
    check: Id
    result: Id
    currency: Code
    cost_minor: Amount = 0

    @property
    def cash_minor(self) -> int:
        """What the check cost."""
        return self.cost_minor


class SeenToBe(EventHead):
    """The cause was seen: "it is X"."""

    kind: Literal["it-is"] = "it-is"
    fault: Id
    cause: Id


class SeenNotToBe(EventHead):
    """The cause was ruled out by eye: "it is not X"."""

    kind: Literal["it-is-not"] = "it-is-not"
    fault: Id
    cause: Id


class AfterCure(EventHead):
    """After a twin was cured of what both may have had this fault was looked at: it works too, or is as it was."""

    kind: Literal["after-cure"] = "after-cure"
    fault: Id
    works: Annotated[bool, Field(strict=True)]


class CameRight(EventHead):
    """The fault is gone and nothing written down cured it: by itself, or by what was done for another."""

    kind: Literal["came-right"] = "came-right"
    fault: Id


class LicensedTest(EventHead):
    """Somebody licensed for it has tested what was put right on a cured fault, and passed it."""

    kind: Literal["licensed-test"] = "licensed-test"
    fault: Id


class Purchase(EventHead):
    """Packs of one part bought from one supplier, with the whole of the quote as it stood.

    ``quote`` is its id, empty for a purchase without a quote. ``price_minor`` is what was paid for a pack,
    ``deposit_minor`` for a piece, ``postage_minor`` for all of it.
    """

    kind: Literal["purchase"] = "purchase"
    quote: Text = ""
    part: Id
    supplier: Id
    condition: Condition
    packs: Units
    pack: Units = 1
    currency: Code
    price_minor: Amount
    postage_minor: Amount = 0
    deposit_minor: Amount = 0
    ref: Text = ""
    good_chance: Share
    refund_share: Share = 0.0
    lead_days: Days = 0
    warranty_months: Days | None = None

    @classmethod
    def of(cls, quote: Quote, packs: int, *, currency: str, at: datetime, source: str, postage_minor: int) -> Purchase:
        """Packs of a supplier's quote at the price asked. Raises ``ValueError`` for a part from the shelf."""
        if quote.supplier is None:
            raise ValueError(f"{quote.id} is on the shelf, and nobody sells it")
        same = ("part", "condition", "pack", "price_minor", "deposit_minor", "good_chance", "refund_share")
        return cls.model_validate(
            {key: getattr(quote, key) for key in (*same, "lead_days", "warranty_months", "supplier")}
            | {"quote": quote.id[:MOST_SIGNS], "ref": quote.ref[:MOST_SIGNS], "packs": packs, "currency": currency}
            | {"at": at, "source": source, "postage_minor": postage_minor}
        )

    @property
    def units(self) -> int:
        """Pieces bought."""
        return self.packs * self.pack

    @property
    def deposits_minor(self) -> int:
        """The exchange deposits of all pieces."""
        return self.deposit_minor * self.units

    @property
    def cash_minor(self) -> int:
        """Goods, postage and deposits."""
        return self.price_minor * self.packs + self.postage_minor + self.deposits_minor


class FittedPiece(Record):
    """Pieces used in a fitting, where they came from, and what became of them.

    ``quote`` is the id they were planned under (``owned:n`` for the shelf), ``bought`` the number of their purchase.
    """

    part: Id
    units: Units
    quote: Text = ""
    bought: Number | None = None
    condition: Condition
    good_chance: Share
    then: Literal["stays-on", "kept", "sent-back"]


class Fitting(EventHead):
    """A repair was tried. ``price_minor``: its direct and access prices; pieces were paid for when they were bought."""

    kind: Literal["fitting"] = "fitting"
    fault: Id
    repair: Id
    pieces: Annotated[tuple[FittedPiece, ...], Field(max_length=100)] = ()
    cured: Annotated[bool, Field(strict=True)]
    currency: Code
    price_minor: Amount = 0

    @property
    def cash_minor(self) -> int:
        """What the fitting itself cost."""
        return self.price_minor


class SentBack(EventHead):
    """Pieces of a purchase were sent back without a fitting; what comes back for them is a refund of its own."""

    kind: Literal["sent-back"] = "sent-back"
    part: Id
    units: Units
    bought: Number


class MoneyBack(EventHead):
    """Money that came back; ``bought`` is the number of the purchase it belongs to, if it belongs to one."""

    currency: Code
    amount_minor: Amount
    bought: Number | None = None
    text: Text = ""

    @property
    def cash_minor(self) -> int:
        """Below zero: it goes back into the pot."""
        return -self.amount_minor


class Refund(MoneyBack):
    """A supplier or the vehicle's seller gave money back."""

    kind: Literal["refund"] = "refund"


class DepositReturned(MoneyBack):
    """An exchange deposit came back."""

    kind: Literal["deposit-returned"] = "deposit-returned"


class Spend(EventHead):
    """Money spent on something that is neither a part nor a fitting."""

    kind: Literal["spend"] = "spend"
    currency: Code
    amount_minor: Amount
    fault: Id | None = None
    text: Text

    @property
    def cash_minor(self) -> int:
        """The amount."""
        return self.amount_minor


class NewFault(EventHead):
    """A fault that nobody knew of was seen, or one that was cured is ``back``."""

    kind: Literal["new-fault"] = "new-fault"
    fault: Id
    title: Text = ""
    severity: Severity | None = None
    back: bool = False


class LeftAsItIs(EventHead):
    """The person gives a fault up: it is left as it is, and no plan works on it until this is struck out."""

    kind: Literal["left"] = "left"
    fault: Id
    text: Text = ""


class PriceCorrected(EventHead):
    """What a supplier really asks for a pack; the quote is told by content too, as its line may move."""

    kind: Literal["price"] = "price"
    quote: Text
    part: Id
    supplier: Id
    condition: Condition
    ref: Text = ""
    currency: Code
    was_minor: Amount
    now_minor: Amount


class WorkPriceCorrected(EventHead):
    """What a repair really costs beside its parts: a workshop's price, hire, sundries."""

    kind: Literal["work-price"] = "work-price"
    fault: Id
    repair: Id
    currency: Code
    was_minor: Amount
    now_minor: Amount


class OddsCorrected(EventHead):
    """The odds of a cause as the person sees them now."""

    kind: Literal["odds"] = "odds"
    fault: Id
    cause: Id
    was: Odds
    now: Odds


class Note(EventHead):
    """A word to remember, about one fault or the whole job."""

    kind: Literal["note"] = "note"
    fault: Id | None = None
    text: Text


class Strike(EventHead):
    """An earlier happening is struck out: it stays, and counts no more."""

    kind: Literal["strike"] = "strike"
    strikes: Number
    text: Text = ""


class Lost(EventHead):
    """Stands where a happening could not be read when a damaged record was rescued, and keeps its number."""

    kind: Literal["lost"] = "lost"


Happening = Annotated[
    CheckMade
    | SeenToBe
    | SeenNotToBe
    | AfterCure
    | CameRight
    | LicensedTest
    | Purchase
    | Fitting
    | SentBack
    | Refund
    | DepositReturned
    | Spend
    | NewFault
    | LeftAsItIs
    | PriceCorrected
    | WorkPriceCorrected
    | OddsCorrected
    | Note
    | Strike
    | Lost,
    Field(discriminator="kind"),
]


class Entry(NamedTuple):
    """A happening with its running number; ``struck_by`` is the number of the strike that struck it out."""

    number: int
    happening: Happening
    struck_by: int | None = None

    @property
    def stands(self) -> bool:
        """Whether it counts: something that happened and was not struck out."""
        return self.struck_by is None and not isinstance(self.happening, Strike | Lost)


class PlanMade(Record):
    """A plan that was made, as the JSON text that whoever made it gave; ``after`` is the last happening before it."""

    number: Number
    at: Utc
    after: Annotated[int, Field(strict=True, ge=0)]
    text: Annotated[str, Field(max_length=MOST_PLAN_SIGNS), AfterValidator(_is_json)]


def entries(happenings: Iterable[tuple[int, Happening]]) -> tuple[Entry, ...]:
    """Numbered happenings with what strikes each of them out."""
    numbered = list(happenings)
    struck = {each.strikes: number for number, each in numbered if isinstance(each, Strike)}
    return tuple(Entry(number, each, struck.get(number)) for number, each in numbered)


def standing(record: Sequence[Entry]) -> Iterator[Entry]:
    """The entries that count, in order."""
    return (entry for entry in record if entry.stands)
