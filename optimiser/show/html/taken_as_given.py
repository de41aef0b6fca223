"""What a plan takes as given: each setting with its value, and who said it or where its default comes from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from optimiser.model.report import Report
from optimiser.show import wording

SAID = "You said so, in job.toml"
INVENTED = "Default: invented, no published source"
PRACTICE = "Default: common practice, no published source"
RULE = "Default: a rule of the program"


@dataclass(frozen=True)
class Given:
    what: str
    value: str
    source: str


def given(known: Report) -> tuple[Given, ...]:
    return (*_money(known), *_safety(known), *_chances(known), *_search(known))


def _source(known: Report, table: str, key: str, default: str) -> str:
    return SAID if key in known.written.get(table, ()) else default


def _money(known: Report) -> Iterator[Given]:
    job = known.plan.job
    text, pot = job.currency.text, job.pot
    yield Given("The whole pot", wording.amount(job, pot.cap_minor), SAID)
    yield Given("Held back", text(pot.hold_back_minor), _source(known, "money", "hold_back_minor", "Default: nothing"))
    worth = f"{text(job.hour_worth_minor)} an hour"
    default = "Default: nothing, where profit is the aim" if job.settings.aim == "profit" else f"{INVENTED}: a fiftieth of the pot less the purchase"  # noqa: E501 # fmt: skip
    yield Given("What your time is worth", worth, _source(known, "money", "hour_worth_minor", default))
    hours = job.time.minutes
    yield Given("Your time", "no limit" if hours is None else wording.hours(hours), _source(known, "time", "hours", "Default: no limit"))  # noqa: E501 # fmt: skip
    aim = "the most profit" if job.settings.aim == "profit" else "the most fixes, counted by importance"
    yield Given("Aim", aim, _source(known, "job", "aim", RULE))
    sold = pot.sale_as_it_stands_minor
    if sold is not None:
        yield Given("What the vehicle would fetch as it stands", wording.amount(job, sold), SAID)


def _safety(known: Report) -> Iterator[Given]:
    settings = known.plan.job.settings
    first = _source(known, "job", "safety_first", RULE)
    yield Given("Dangerous faults first", "yes" if settings.safety_first else "NO, switched off", first)
    if settings.safety_first:
        step = f" in steps of {settings.safety_step:.0%}" if settings.safety_step else ""
        source = _source(known, "job", "good_enough", INVENTED)
        yield Given("Safety counts before all else", f"up to {wording.chance(settings.good_enough)}{step}", source)
    weights = "2 for a dangerous or a major fault, 1 for a minor one, unless a fault says otherwise"
    yield Given("Importance", weights, INVENTED)
    yield Given("Parts never bought used", "brake friction and hydraulics, steering, tyres, fuel and gas hoses; belts and airbags are new or not at all; what the job lifts is said above", PRACTICE)  # noqa: E501 # fmt: skip
    yield Given("Cautions", "the usual ones of any workshop; the maker's data, the local code and the licensed trade go before them", PRACTICE)  # noqa: E501 # fmt: skip


def _chances(known: Report) -> Iterator[Given]:
    job = known.plan.job
    sound = ", ".join(f"{name} {wording.chance(chance)}" for name, chance in known.conditions.items())
    yield Given("A part is sound, where its quote does not say", sound, INVENTED)
    others = sorted({fault.something_else for fault in job.faults if fault.causes})
    if others:
        said = " or ".join(wording.chance(share) for share in others)
        yield Given("The cause is none of those listed", said, "As each fault says; 5% where it does not (invented, no published source)")  # noqa: E501 # fmt: skip
    step = job.settings.chance_step
    count = f"in steps of {step:.0%}" if step else "as they are"
    yield Given("Chances count", count, _source(known, "job", "chance_step", INVENTED))
    yield Given("Odds of causes, what checks show, what repairs cure", "as job.toml has them, moved by what was found", "job.toml: your own, or those of a pattern that you began from (common practice, no published source)")  # noqa: E501 # fmt: skip
    if any(fault.twin for fault in job.faults):
        twin = f"{job.settings.twin_strength:.2f}"
        yield Given("How far twin faults hang together", twin, _source(known, "job", "twin_strength", INVENTED))


def _search(known: Report) -> Iterator[Given]:
    settings = known.plan.job.settings
    yield Given("One cause a fault, and an attempt shows plainly whether it worked", "yes", RULE)
    if settings.fallbacks:
        tries = f"{settings.most_attempts} a fault"
        yield Given("The most attempts", tries, _source(known, "job", "most_attempts", RULE))
        least = f"{settings.check_must_gain:g} of a fix, or of the money"
        yield Given("A check must gain", least, _source(known, "job", "check_must_gain", INVENTED))
    else:
        yield Given("Fallbacks", "none: one attempt a fault", _source(known, "job", "fallbacks", RULE))
    if settings.most_suppliers is not None:
        yield Given("The most suppliers", str(settings.most_suppliers), SAID)
    if settings.needed_by is not None:
        yield Given("Needed by", settings.needed_by.isoformat(), SAID)
    if settings.licensed:
        yield Given("You are licensed for", ", ".join(settings.licensed), SAID)
