"""One happening of each kind, all invented, and what a folder holds."""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from optimiser.ledger import Recorded, Store
from optimiser.model import events as h

AT = datetime(2026, 11, 24, 19, 30, tzinfo=UTC)
NOBODY = 65534


def note(text: str = "the fan is clear") -> h.Note:
    return h.Note(at=AT, source="note", text=text)


def purchase(**changes: object) -> h.Purchase:
    written: dict[str, object] = {
        "quote": "quotes/parcel-and-spanner.csv:12",
        "part": "blower-motor",
        "supplier": "parcel-and-spanner",
        "condition": "refurbished",
        "packs": 3,
        "pack": 2,
        "price_minor": 1250,
        "postage_minor": 490,
        "deposit_minor": 300,
        "good_chance": 0.9,
        "ref": "BM 12/7",
    }
    money = {"at": AT, "source": "bought", "currency": "GBP"}
    return h.Purchase.model_validate(money | written | changes)


def one_of_each() -> list[h.Happening]:
    """Strike left out: the store writes it. The piece fitted is the purchase, number 4."""
    said = {"at": AT, "source": "found"}
    money = said | {"currency": "GBP"}
    piece = h.FittedPiece(
        part="blower-motor", units=1, bought=4, condition="refurbished", good_chance=0.9, then="sent-back"
    )
    return [
        h.CheckMade(**money, fault="blower", check="feed-motor", result="spins", cost_minor=150),
        h.SeenToBe(**said, fault="blower", cause="resistor"),
        h.SeenNotToBe(**said, fault="blower", cause="fuse"),
        purchase(),
        h.Fitting(**money, fault="blower", repair="motor", pieces=(piece,), cured=False, price_minor=600),
        h.SentBack(**said, part="blower-motor", units=2, bought=4),
        h.Refund(**money, amount_minor=1250, bought=4, text="came by post"),
        h.DepositReturned(**money, amount_minor=300, bought=4),
        h.Spend(**money, amount_minor=799, text="fused lead"),
        h.NewFault(**said, fault="heater-matrix", title="Heater matrix weeps", severity="major"),
        h.PriceCorrected(
            **money,
            quote="quotes.csv:3",
            part="resistor",
            supplier="north",
            condition="new",
            was_minor=900,
            now_minor=0,
        ),
        h.OddsCorrected(**said, fault="blower", cause="motor", was=6, now=0.5),
        note(),
        h.AfterCure(**said, fault="blower", works=False),
        h.Lost(at=AT, source="rescue"),
        h.LeftAsItIs(**said, fault="blower", text="the matrix is dearer than the van"),
        h.LicensedTest(**said, fault="blower"),
        h.CameRight(**said, fault="blower"),
        h.WorkPriceCorrected(**money, fault="blower", repair="motor", was_minor=6000, now_minor=8500),
    ]


def full_store(folder: Path, happenings: int = 20, plans: int = 2, kinds: int | None = None) -> tuple[Store, Recorded]:
    """A record with something of everything in it, or of so many ``kinds``, some of it struck out."""
    store = Store(folder)
    each = one_of_each()[:kinds]
    for number in range(happenings):
        store.append([each[number % len(each)].model_copy(update={"at": AT + timedelta(minutes=number)})])
    for number in range(plans):
        store.add_plan(AT, f'{{"format": 1, "fixes": {number}}}')
    store.strike(AT, "strike", "never happened")
    return store, store.everything()


def left_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def apart(do: Callable[[], object]) -> object:
    """What it answers or raises in a process of its own, so that what it does to the process ends with it."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            answer = do()
        except BaseException as error:  # noqa: BLE001 - handed to the parent, which judges it
            answer = (type(error), str(error))
        os.write(writing, pickle.dumps(answer))
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        answer = pickle.loads(pipe.read())
    os.waitpid(child, 0)
    return answer


def as_nobody(do: Callable[[], object]) -> object:
    """The same, done by a user without rights: root may write everywhere."""

    def without_rights() -> object:
        if os.geteuid() == 0:
            os.setuid(NOBODY)
        return do()

    return apart(without_rights)
