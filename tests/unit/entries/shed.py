"""A small job in a folder, its plan kept, and the desk that words are understood against."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path

from optimiser import entries, service
from optimiser.entries import Desk
from optimiser.ledger import Store
from optimiser.model import events as h
from optimiser.show import steps

TODAY = date(2026, 11, 24)
AT = datetime(2026, 11, 24, 19, 0, tzinfo=UTC)
JOB = """
[job]
title = "Burdock, a tired hay baler"
currency = "GBP"
today = 2026-11-24

[money]
cap = "400.00"
spent = "50.00"

[[access]]
id = "cover"
title = "Side cover off"
minutes = 20
price = "3.00"

[[part]]
id = "shoe"
title = "Clutch shoe"
renew_in = 2

[[fault]]
id = "feeder"
title = "Feeder does not turn"
severity = "major"

  [fault.causes]
  relay = 3
  motor = 6

  [[fault.check]]
  id = "feed"
  title = "Feed the motor through a fused lead"
  minutes = 10
  cost = "2.00"
  access = ["cover"]
    [fault.check.results]
    spins = { relay = 1.0, motor = 0.0, something-else = 0.5 }

  [[fault.check]]
  id = "swap"
  title = "Swap the relay"
  minutes = 200
    [fault.check.results]
    clicks = { relay = 0.6, motor = 0.5, something-else = 0.5 }
    silent = { relay = 0.4, motor = 0.5, something-else = 0.5 }

  [[fault.repair]]
  id = "relay"
  title = "Fit a relay"
  cures = { relay = 1.0 }
  parts = { relay = 1 }

  [[fault.repair]]
  id = "motor"
  title = "Fit a feeder motor"
  cures = { motor = 1.0 }
  parts = { motor = 1 }
  price = "1.50"
  access = ["cover"]

[[fault]]
id = "clutch"
title = "Clutch slips"
severity = "dangerous"

  [[fault.repair]]
  id = "shoes"
  title = "Fit clutch shoes"
  chance = 0.95
  parts = { shoe = 1 }

[[fault]]
id = "horn"
title = "Horn dead"
severity = "minor"

  [[fault.repair]]
  id = "horn"
  title = "Fit a horn"
  chance = 0.9
  price = "15.00"
"""
QUOTES = """part,supplier,condition,price,pack,deposit,refund_share,ref
motor,cole,refurbished,60.00,1,10.00,0.5,M-1
relay,cole,new,12.00,1,,,
shoe,cole,new,9.00,2,,,
spare-motor,odell,new,5.00,1,,,
motor,odell,salvage,200.00,1,,,
motor,odell,new,250.00,1,,,
"""
SUPPLIERS = """supplier,title,postage,free_over
cole,Cole and Daughter,6.00,150.00
odell,Odell,4.00,
"""


def write(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in (("job.toml", JOB), ("quotes.csv", QUOTES), ("suppliers.csv", SUPPLIERS)):
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def plan(folder: Path, *, carried: bool = False) -> None:
    """Plan and keep, with new numbers or as a verb that records does."""
    now = service.moment(folder, TODAY)
    before = now.plans.numbering if carried else {}
    service.keep(folder, now, steps.carried_on(service.plan(now.job), before), AT)


def desk(folder: Path, verb: str = "found", answers: Sequence[str] | None = None, at: datetime = AT) -> Desk:
    """The desk; ``answers`` are given to its questions one by one, None: nobody is there."""
    left = list(answers or ())

    def ask(question: str, offered: Sequence[str]) -> str | None:
        assert question
        if not left:
            return None
        answer = left.pop(0)
        assert answer in offered, (answer, offered)
        return answer

    return Desk(service.moment(folder, TODAY), at, verb, ask if answers is not None else entries.nobody)


def number(folder: Path, kind: str, name: str) -> str:
    """The number of a step of the plan last kept: a check or an attempt by its id, an order line by its part."""
    seen = desk(folder).seen
    assert seen is not None
    of_kind = [step for step in seen.steps.values() if step.kind == kind]
    found = [s.number for s in of_kind if name in ([p.part for p in s.pieces] if kind == "order" else [s.id])]
    assert found, (kind, name, seen.steps)
    return str(found[0])


def add(folder: Path, *happenings: h.Happening) -> tuple[int, ...]:
    return Store(folder).append(happenings)
