"""Every pattern that travels with the tool: it reads as a job, tells its causes apart, and is safe."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date
from itertools import combinations
from pathlib import Path

import pytest

from optimiser import job_folder, patterns, starting
from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.job_folder import package_data
from optimiser.model import protection
from optimiser.model.job import SOMETHING_ELSE, Fault, Job, LicensedSystem, Severity
from optimiser.money import Currency
from optimiser.patterns.catalogue import ON_THE_ROAD

TODAY = date(2026, 11, 24)
CATALOGUE = patterns.catalogue()
TOLD_APART = 1.5
"""How much likelier one cause must make some result than another does."""
SURE = 0.9
MOST_WORDS = 30
LICENSED = {system.value for system in LicensedSystem}


def read(wanted: patterns.Wanted, code: str = "GBP") -> Job:
    currency = Currency.of(code)
    head = starting.head(starting.NewJob("Invented", currency, 10**7))
    return job_folder.job(Path("/nowhere"), TODAY, written=head + patterns.fault_text(wanted, currency, {}))


@pytest.fixture(scope="module")
def jobs() -> dict[str, Job]:
    return {name: read(patterns.Wanted(pattern)) for name, pattern in CATALOGUE.items()}


def fault(job: Job) -> Fault:
    return job.faults[0]


def test_there_are_enough_of_each_kind() -> None:
    counts = Counter(pattern.serves for pattern in CATALOGUE.values())
    assert counts["road"] + counts["car"] + counts["trailer"] + counts["camper"] >= 110
    assert counts["motorbike"] >= 9
    assert counts["boat"] >= 12
    assert counts["machine"] >= 12


def test_what_is_dangerous_has_a_way_left_when_nothing_that_is_listed_is_behind_it(jobs: dict[str, Job]) -> None:
    """A new part that failed is not fitted again for want of another way."""
    bare = [
        name for name, job in jobs.items()
        if fault(job).severity == Severity.DANGEROUS
        and not any(repair.cures is None or repair.cures.get(SOMETHING_ELSE) for repair in fault(job).repairs)
    ]  # fmt: skip
    assert bare == []


def test_every_file_says_where_it_comes_from() -> None:
    for name, pattern in CATALOGUE.items():
        assert pattern.text.startswith("# Common practice, no published source"), name


def test_every_id_stands_for_itself() -> None:
    assert len({pattern.title.lower() for pattern in CATALOGUE.values()}) == len(CATALOGUE)
    phrases = Counter(phrase.lower() for pattern in CATALOGUE.values() for phrase in pattern.asked_as)
    assert [phrase for phrase, count in phrases.items() if count > 1] == []


def test_it_reads_at_each_of_its_places() -> None:
    titles = {
        (pattern.id, place): [one.title for one in read(patterns.Wanted(pattern, (place,))).faults]
        for pattern in CATALOGUE.values()
        for place in pattern.places
    }
    assert len(titles) > 100
    assert [at for at, said in titles.items() if len(said) != 1 or not said[0].endswith(f", {at[1]}")] == []


def test_it_reads_at_two_places_together() -> None:
    several = [pattern for pattern in CATALOGUE.values() if len(pattern.places) > 1]
    faults = {one.id: read(patterns.Wanted(one, one.places[:2]), "JPY").faults for one in several}
    assert {name for name, both in faults.items() if len({fault.id for fault in both}) != 2} == set()
    twins = {name: {fault.twin is not None for fault in both} for name, both in faults.items()}
    assert twins == {one.id: {bool(one.pair)} for one in several}


def test_causes_are_told_apart_or_cured_together(jobs: dict[str, Job]) -> None:
    assert [(name, *pair) for name, job in jobs.items() for pair in taken_for_one(name, fault(job))] == []


def taken_for_one(name: str, one: Fault) -> Iterator[tuple[str, str]]:
    """Two causes that no result tells apart and no repair cures alike, though the file does not say so."""
    results = [likelihoods(check, list(prior(one))) for check in one.checks]
    said = [line for line in CATALOGUE[name].text.splitlines() if line.startswith("# not told apart:")]
    for first, second in combinations(one.causes, 2):
        apart = any(
            max(row[first], row[second]) >= TOLD_APART * min(row[first], row[second])
            for shown in results for row in shown.values()
        )  # fmt: skip
        together = any(min(r.cure(first), r.cure(second)) > 0 for r in one.repairs)
        if not (apart or together or any(first in line and second in line for line in said)):
            yield first, second


def test_nothing_unsafe_is_offered(jobs: dict[str, Job]) -> None:
    assert [(name, wrong) for name, job in jobs.items() for wrong in unsafe(job)] == []


def unsafe(job: Job) -> Iterator[str]:
    """No used part of a protected kind; licensed systems have a workshop; what is dangerous can surely be cured."""
    one = fault(job)
    yield from (q.id for q in job.quotes if protection.barred(job.part(q.part), one, q.condition) is not None)
    if LICENSED & {*one.systems} and not any(repair.by == "workshop" for repair in one.repairs):
        yield "no workshop for licensed work"
    if one.severity == Severity.DANGEROUS and not surely_cured(one):
        yield "no sure cure of what is dangerous"
    if not one.systems:
        yield "no system, so that no cautions are shown"


def surely_cured(one: Fault) -> bool:
    listed = {cause: chance for cause, chance in prior(one).items() if cause != SOMETHING_ELSE} or {"": 1.0}
    each = (sum(chance * repair.cure(cause) for cause, chance in listed.items()) for repair in one.repairs)
    one_by_one = sum(chance * max(repair.cure(cause) for repair in one.repairs) for cause, chance in listed.items())
    return max(*each, one_by_one) >= SURE * sum(listed.values())


def test_friction_parts_come_in_axle_sets(jobs: dict[str, Job]) -> None:
    worn = [
        part
        for name, job in jobs.items()
        for part in job.parts
        if CATALOGUE[name].serves in ON_THE_ROAD
        and (part.kind or part.implied) == "friction"
        and any(part.id in repair.parts for repair in fault(job).repairs)
    ]
    assert worn
    assert [part.id for part in worn if part.renew_in < 2 and "set" not in part.title.lower()] == []


def test_every_cause_is_cured_by_some_repair(jobs: dict[str, Job]) -> None:
    for name, job in jobs.items():
        one = fault(job)
        for cause in one.causes:
            assert any(repair.cure(cause) > 0 for repair in one.repairs), (name, cause)


def test_rough_prices_are_low_then_high(jobs: dict[str, Job]) -> None:
    assert sum(bool(part.rough_price) for job in jobs.values() for part in job.parts) > 200
    scale = package_data.rough_scale()
    assert scale["GBP"] == 1
    assert all(factor > 0 for factor in scale.values())


@pytest.mark.parametrize(
    ("said", "severity"),
    [
        ("throttle stuck open", "dangerous"), ("spongy brakes", "dangerous"), ("handbrake weak", "dangerous"),
        ("exhaust fumes in the car", "dangerous"), ("frayed seat belt", "dangerous"), ("brake binding", "dangerous"),
        ("bike chain worn", "dangerous"), ("fork seals leaking", "dangerous"), ("bike carb floods", "dangerous"),
        ("motorbike wheel bearing", "dangerous"), ("motorbike tyre perished", "dangerous"),
        ("motorbike brake seized", "dangerous"), ("regulator rectifier dead", "major"), ("sidestand switch", "major"),
        ("brake shoes worn", "dangerous"), ("wheel has play", "dangerous"), ("jumps out of gear", "major"),
        ("boat steering seized", "dangerous"), ("stern gland drips", "dangerous"), ("hull cracked", "dangerous"),
        ("seat belt stuck", "dangerous"), ("boat shore power trips", "dangerous"),
        ("gas fridge will not stay lit", "dangerous"),
    ],
)  # fmt: skip
def test_what_may_hurt_somebody_is_as_grave_as_it_is(said: str, severity: str) -> None:
    assert patterns.search(said, CATALOGUE)[0].pattern.severity == severity


def test_no_step_has_so_many_words_that_it_is_not_read(jobs: dict[str, Job]) -> None:
    steps = [(name, one.title) for name, job in jobs.items() for one in (*fault(job).checks, *fault(job).repairs)]
    assert [(name, said) for name, said in steps if len(said.split()) > MOST_WORDS] == []


def test_a_machine_has_cautions_of_its_own_steering(jobs: dict[str, Job]) -> None:
    """No spring compressor and no wheel alignment of a car's; the plug lead off before a hand goes near it."""
    said = " ".join(
        line
        for lines in package_data.cautions_for(fault(jobs["machine-steering-loose"]).systems).values()
        for line in lines
    )
    assert "compressor" not in said
    assert "plug lead off" in said


def test_air_brakes_and_lithium_have_cautions_of_their_own(jobs: dict[str, Job]) -> None:
    air, lithium = (
        package_data.cautions_for(fault(jobs[name]).systems) for name in ("lorry-air-brakes", "lithium-battery-hot")
    )
    said = " ".join(air["Air brakes"])
    assert "chamber is never opened" in said
    assert "Drain the tanks" in said
    assert set(lithium) == {"Lithium batteries"}


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("machine-steering-loose", "lug lead off"), ("machine-tyre-flat", "lug lead off"),
        ("machine-starter-clicks", "Blades out, brake on, plug lead off"), ("trailer-wheel-bearing", "chocked"),
        ("trailer-winch-strap", "second rope"),
    ],
)  # fmt: skip
def test_what_makes_it_safe_to_look_stands_in_the_look(jobs: dict[str, Job], name: str, kind: str) -> None:
    job = jobs[name]
    looks = fault(job).checks
    opened = {access.id: access.title for access in job.access}
    assert looks
    assert all(kind in " ".join((look.title, *(opened[a] for a in look.access))) for look in looks)
