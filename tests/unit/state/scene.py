"""A job with twins, a part that two faults share and an exchange unit, and happenings on it; all invented."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from optimiser.model import events as h
from optimiser.model.job import Access, Check, Fault, Job, Owned, Part, Pot, Repair, Settings
from optimiser.model.quotes import Quote, Supplier
from optimiser.state import Standing, stood

TODAY = date(2026, 11, 24)
AT = datetime(2026, 11, 24, 19, 0, tzinfo=UTC)
FEED = Check(
    id="feed",
    cost_minor=200,
    access=("cover",),
    results={"spins": {"wire": 1.0, "motor": 0.0, "something-else": 0.5}},
)
BLOWER = Fault(
    id="blower",
    title="Blower dead",
    severity="major",
    twin="blowers",
    causes={"wire": 1.0, "motor": 3.0},
    something_else=0.2,
    checks=(FEED,),
    repairs=(
        Repair(id="motor", cures={"motor": 0.9}, parts={"motor": 1}, access=("cover",)),
        Repair(id="wire", cures={"wire": 1.0}, price_minor=300),
    ),
)
REAR = BLOWER.model_copy(update={"id": "rear", "title": "Rear blower dead", "causes": {"wire": 2.0, "motor": 6.0}})
BRAKE = Fault(id="brake", severity="dangerous", repairs=(Repair(id="discs", chance=0.9, parts={"disc": 1}),))
FAULTS = (BLOWER, REAR, BRAKE)
MOTOR = Quote(id="quotes.csv:2", part="motor", supplier="cole", condition="refurbished", price_minor=6000, stock=4,
              good_chance=0.8, deposit_minor=1000, lead_days=5, ref="M-1")  # fmt: skip
NEW = Quote(id="quotes.csv:3", part="motor", supplier="odell", condition="new", price_minor=9000, good_chance=0.95)
DISC = Quote(id="quotes.csv:4", part="disc", supplier="cole", condition="new", price_minor=1500, good_chance=0.98)
JOB = Job(
    settings=Settings(title="Burdock", currency="GBP", today=TODAY),
    pot=Pot(cap_minor=60000, purchase_minor=10000, spent_minor=500, hold_back_minor=1000),
    access=(Access(id="cover", minutes=20, price_minor=300), Access(id="wheel", minutes=5, price_minor=50)),
    parts=(Part(id="disc", kind="friction", renew_in=2),),
    owned=(
        Owned(part="disc", units=1, condition="new", good_chance=0.9),
        Owned(part="motor", units=1, condition="salvage", good_chance=0.5),
    ),
    faults=FAULTS,
    quotes=(MOTOR, NEW, DISC),
    suppliers=(Supplier(id="cole", postage_minor=400),),
)
SAID = {"at": AT, "source": "test"}
MONEY = SAID | {"currency": "GBP"}


def bought(quote: Quote = MOTOR, packs: int = 1, **changes: object) -> h.Purchase:
    """Packs of a quote, today, postage 4.00."""
    made = h.Purchase.of(quote, packs, currency="GBP", at=AT, source="test", postage_minor=400)
    return h.Purchase.model_validate({name: getattr(made, name) for name in h.Purchase.model_fields} | changes)


def piece(quote: str, units: int = 1, *, of: Quote = MOTOR, then: str = "kept", **changes: object) -> h.FittedPiece:
    """Pieces from a row of the shelf, as ``fitted`` writes them."""
    number = int(quote.removeprefix("bought:")) if quote.startswith("bought:") else None
    written = {"part": of.part, "units": units, "quote": quote, "bought": number, "condition": of.condition}
    return h.FittedPiece.model_validate(written | {"good_chance": of.good_chance, "then": then} | changes)


def fitted(fault: str, repair: str, *pieces: h.FittedPiece, cured: bool = False, **changes: object) -> h.Fitting:
    """A repair tried."""
    return h.Fitting.model_validate(
        MONEY | {"fault": fault, "repair": repair, "pieces": pieces, "cured": cured} | changes
    )


def found(fault: str = "blower", check: str = "feed", result: str = "spins", **changes: object) -> h.CheckMade:
    """A check made."""
    return h.CheckMade.model_validate(MONEY | {"fault": fault, "check": check, "result": result} | changes)


def back(amount: int, bought: int | None = None) -> h.DepositReturned:
    """A deposit that came back."""
    return h.DepositReturned(**MONEY, amount_minor=amount, bought=bought)


def is_back(fault: str = "blower", **changes: object) -> h.NewFault:
    """A fault seen, or seen again."""
    return h.NewFault.model_validate(SAID | {"fault": fault} | changes)


def strike(number: int) -> h.Strike:
    """An earlier happening struck out."""
    return h.Strike(**SAID, strikes=number)


def after(happenings: Iterable[h.Happening], job: Job = JOB, days: int = 0) -> Standing:
    """The job as it stands so many days after these happenings, numbered from 1."""
    settings = job.settings.model_copy(update={"today": TODAY + timedelta(days)})
    return stood(job.model_copy(update={"settings": settings}), h.entries(enumerate(happenings, start=1)))


def shelf(standing: Standing) -> dict[str, int]:
    """Pieces by the name of their row."""
    return {name: row.units for name, row in standing.job.shelf.items()}


OWN = {"owned:1": 1, "owned:2": 1}
"""What the folder has on the shelf."""
