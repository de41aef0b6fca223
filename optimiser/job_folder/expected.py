"""What belongs under each key of ``job.toml`` and in each column of a sheet, in plain words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

from optimiser.model.job import ODDS_IN_WORDS, LicensedSystem, Severity
from optimiser.model.quotes import Condition


@dataclass(frozen=True)
class Want:
    """What is expected, how to write it, and the words to choose from where there is a choice."""

    expected: str
    mend: str
    choices: tuple[str, ...] = ()


def _one_of(*choices: str) -> Want:
    return Want(f"one of {', '.join(choices)}", "write one of these words", choices)


TEXT = Want("text", "write text, in a job.toml between quotation marks")
ID = Want(
    "an id: printable text on one line, at most 200 signs, no spaces at its ends",
    "write a short name such as front-disc",
)
AMOUNT = Want(
    "an amount of 0 or more",
    "write digits with a point before the decimals, without currency sign or thousands separator",
)
CHANCE = Want("a chance from 0 to 1", "write a number such as 0.9")
SHARE_BELOW_ONE = Want("a chance from 0 up to, but not, 1", "write a number such as 0.05")
COUNT = Want("a whole number from 0 to 1000000", "write a whole number such as 3")
AT_LEAST_ONE = Want("a whole number from 1 to 1000000", "write a whole number such as 1")
STEP = Want("0, or one of 1/2, 1/3, 1/4, ...", "write a number such as 0.01 or 0.2")
ODDS = Want(
    f"odds greater than 0, or one of {', '.join(ODDS_IN_WORDS)}",
    "write a number such as 4, or leave the cause out if it is ruled out",
    tuple(ODDS_IN_WORDS),
)
ROUGH_PRICES = Want(
    "a table of rough prices by condition", 'write a table such as { new = ["40.00", "75.00"], salvage = "15.00" }'
)
ROUGH_PRICE = Want("an amount, or the lowest and the highest", 'write "40.00", or ["40.00", "75.00"]')
WEIGHT = Want("a number from 0.000001 to 1000", "write a number such as 1.0")
HOURS = Want("hours, from 0 to 100000", "write a number such as 24.0")
SECONDS = Want("seconds, greater than 0, at most 86400", "write a number such as 60")
DATE = Want("a date", "write year-month-day, such as 2026-11-24")
YES_NO = Want("true or false", "write true or false, without quotation marks")
IDS = Want("a list of ids of [[access]] rows", 'write a list such as ["dash-lower"]')
CAUSES = Want("a table of causes and their odds", "write a table such as { fuse = 1, motor = 6 }")
CURES = Want("a table of causes and the chance to cure each", "write a table such as { motor = 0.97 }")
PARTS = Want("a table of parts and their numbers", "write a table such as { front-disc = 2 }")
RESULTS = Want(
    "a table of results, each a table of causes and chances",
    "write at least one result such as spins = { fuse = 1.0, motor = 0.03 }",
)
CHANCES = Want(
    "a table of causes and the chance of this result under each", "write a table such as { fuse = 1.0, motor = 0.03 }"
)
SHARED = Want("a list of causes", 'write a list such as ["fuse"]')
BORROWS = Want(
    "a table with the fault and the cause", 'write a table such as { fault = "blower-rear", cause = "motor" }'
)
SAME_AS = Want("a check of another fault, as FAULT.CHECK", 'write it such as "blower-rear.feed-motor"')
PAIRS = Want("a table of results by this check's results", 'write a table such as { turns = "spins" }')
CONDITION = _one_of(*get_args(Condition))
LICENSED = _one_of(*(system.value for system in LicensedSystem))
MIND = _one_of("driven", "engine-running", "live", "raised")

BY_KEY: dict[str, Want] = {
    **dict.fromkeys(("title", "currency", "kind", "note", "ref"), TEXT),
    **dict.fromkeys(("id", "part", "supplier", "twin", "kept_from"), ID),
    **dict.fromkeys(("cap", "purchase", "spent", "hold_back", "sale_as_it_stands", "hour_worth"), AMOUNT),
    **dict.fromkeys(("price", "cost", "sale_gain", "deposit", "postage", "free_over", "minimum_order"), AMOUNT),
    **dict.fromkeys(("good_enough", "check_must_gain", "twin_strength", "chance"), CHANCE),
    **dict.fromkeys(("good_chance", "refund_share"), CHANCE),
    **dict.fromkeys(("safety_step", "chance_step"), STEP),
    **dict.fromkeys(("minutes", "lead_days", "trip_minutes", "stock", "warranty_months"), COUNT),
    **dict.fromkeys(("renew_in", "units", "pack", "most_attempts", "most_suppliers"), AT_LEAST_ONE),
    **dict.fromkeys(("today", "needed_by", "valid_until"), DATE),
    **dict.fromkeys(("safety_first", "fallbacks", "never_salvage", "cache", "rough"), YES_NO),
    "aim": _one_of("fixes", "profit"),
    "solver": _one_of("auto", "highs", "cbc"),
    "by": _one_of("self", "workshop"),
    "severity": _one_of(*(severity.value for severity in Severity)),
    "condition": CONDITION,
    "something_else": SHARE_BELOW_ONE,
    "importance": WEIGHT,
    "hours": HOURS,
    "seconds": SECONDS,
    "licensed": Want("a list of systems", f'write a list, such as ["gas"], of {", ".join(LICENSED.choices)}'),
    "system": Want("a system, or a list of them", 'write a word such as "fuel", or a list such as ["fuel", "wiring"]'),
    "mind": Want("a list of dangers", f'write a list, such as ["live"], of {", ".join(MIND.choices)}'),
    "access": IDS,
    "rough_price": ROUGH_PRICES,
    "causes": CAUSES,
    "cures": CURES,
    "parts": PARTS,
    "results": RESULTS,
    "shared_causes": SHARED,
    "borrows": BORROWS,
    "same_as": SAME_AS,
    "pairs": PAIRS,
}
"""What belongs under a key, whatever table it stands in."""

INSIDE: dict[str, Want] = {
    "licensed": LICENSED,
    "system": TEXT,
    "mind": MIND,
    "access": ID,
    "rough_price": ROUGH_PRICE,
    "causes": ODDS,
    "cures": CHANCE,
    "parts": AT_LEAST_ONE,
    "results": CHANCE,
    "shared_causes": ID,
    "borrows": ID,
    "pairs": ID,
}
"""What belongs inside a list or table that stands under a key."""

DATES = frozenset(key for key, want in BY_KEY.items() if want is DATE)
YES_NOS = frozenset(key for key, want in BY_KEY.items() if want is YES_NO)
