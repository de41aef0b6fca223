"""The witness's own chances and costs: small cases reckoned by hand, and agreement with the code it watches."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from optimiser.certificate.belief import exact, none_sound, not_cured, prior, results
from optimiser.certificate.groups import beliefs, used_for_all
from optimiser.certificate.sums import half_up
from optimiser.diagnosis.groups import standings
from optimiser.model.evidence import Evidence, FailedAttempt, Finding, ItIsNot, Piece
from optimiser.model.job import Check, Fault, Job, Pot, Repair, Settings

A, B, C = Piece("a", 0.5), Piece("b", 0.8), Piece("c", 0.6)
CAUSES = ("wire", "motor", "something-else")


def sets(*pieces: tuple[Piece, ...]) -> list[frozenset[Piece]]:
    return [frozenset(one) for one in pieces]


def test_numbers_are_read_as_they_are_written() -> None:
    assert exact(0.1) + exact(0.2) == Fraction(3, 10)
    assert exact(3) == 3


@pytest.mark.parametrize(
    ("tried", "none"),
    [
        (sets(), Fraction(1)),
        (sets(()), Fraction(0)),  # a repair without parts has nothing that could be unsound
        (sets((A,)), Fraction(1, 2)),
        (sets((A, B)), Fraction(3, 5)),
        (sets((A,), (B,)), Fraction(1, 2) * Fraction(1, 5)),
        (sets((A,), (A,)), Fraction(1, 2)),  # said twice is said once
        (
            sets((A, B), (A, C)),
            Fraction(1, 2) + Fraction(1, 2) * Fraction(1, 5) * Fraction(2, 5),
        ),  # a is sound or not, whichever set it is in
        (sets((A, B), (B,)), Fraction(1, 5)),
    ],
)
def test_the_chance_that_no_set_is_sound(tried: list[frozenset[Piece]], none: Fraction) -> None:
    assert none_sound(tried) == none


def test_the_chance_of_not_being_cured() -> None:
    assert not_cured(Fraction(9, 10), Fraction(1)) == 1
    assert not_cured(Fraction(9, 10), Fraction(1, 2)) == 1 - Fraction(9, 10) * Fraction(1, 2)


@pytest.mark.parametrize(
    ("written", "table"),
    [
        (
            {"spins": {"wire": 0.9}},
            {
                "spins": [Fraction(9, 10), Fraction(1, 2), Fraction(1, 2)],
                "not-spins": [Fraction(1, 10), Fraction(1, 2), Fraction(1, 2)],
            },
        ),
        (
            {"spins": {"wire": 0.9, "default": 0.2}},
            {
                "spins": [Fraction(9, 10), Fraction(1, 5), Fraction(1, 5)],
                "not-spins": [Fraction(1, 10), Fraction(4, 5), Fraction(4, 5)],
            },
        ),
        (
            {"hot": {"wire": 0.7, "default": 0.2}, "cold": {"wire": 0.1}, "warm": {}},
            {
                "hot": [Fraction(7, 10), Fraction(1, 5), Fraction(1, 5)],
                "cold": [Fraction(1, 10), Fraction(2, 5), Fraction(2, 5)],
                "warm": [Fraction(1, 5), Fraction(2, 5), Fraction(2, 5)],
            },
        ),
        (
            {"hot": {"default": 0.333}, "cold": {"default": 0.333}, "warm": {"default": 0.333}},
            {"hot": [Fraction(1, 3)] * 3, "cold": [Fraction(1, 3)] * 3, "warm": [Fraction(1, 3)] * 3},
        ),
    ],
)
def test_results_are_completed(written: dict[str, dict[str, float]], table: dict[str, list[Fraction]]) -> None:
    found = results(Check(id="look", results=written), CAUSES)
    assert {result: [row[c] for c in CAUSES] for result, row in found.items()} == table


SEAT = Fault(
    id="seat",
    severity="minor",
    causes={"wire": 1.0, "motor": 3.0},
    something_else=0.2,
    checks=(Check(id="look", results={"dead": {"wire": 1.0, "motor": 0.25, "something-else": 0.5}}),),
    repairs=(Repair(id="swap", cures={"motor": 0.9}, parts={"motor": 1}), Repair(id="mend", cures={"wire": 0.5})),
)


def job(*faults: Fault, strength: float = 0.5, **seen: tuple[Evidence, ...]) -> Job:
    return Job(settings=Settings(twin_strength=strength), pot=Pot(cap_minor=1000), faults=faults, seen=seen)


def test_belief_before_and_after_a_finding() -> None:
    assert dict(prior(SEAT)) == {"wire": Fraction(1, 5), "motor": Fraction(3, 5), "something-else": Fraction(1, 5)}
    assert prior(Fault(id="bare", severity="minor")) == {"something-else": 1}
    after = beliefs(job(SEAT, seat=(Finding("look", "dead"), Finding("look", "dead"))))["seat"]
    assert after == {
        "wire": Fraction(4, 9),
        "motor": Fraction(3, 9),
        "something-else": Fraction(2, 9),
    }  # 0.2, 0.15, 0.1 of 0.45


def test_belief_after_attempts_that_failed() -> None:
    """A part sound in 0.5 of cases, fitted by a repair that cures 0.9 of motors: 0.55 of them are left."""
    after = beliefs(job(SEAT, seat=(FailedAttempt("swap", (A,)), FailedAttempt("mend"))))["seat"]
    weights = {
        "wire": Fraction(1, 5) * Fraction(1, 2),
        "motor": Fraction(3, 5) * Fraction(55, 100),
        "something-else": Fraction(1, 5),
    }
    assert after == {cause: weight / sum(weights.values()) for cause, weight in weights.items()}


@pytest.mark.parametrize("strength", [0.0, 0.25, 1.0])
def test_the_first_finding_moves_a_twin_as_far_as_the_strength_says(strength: float) -> None:
    """(1 - t) of the odds and t of the other's belief, for two members; strengths with exact roots."""
    left, right = (SEAT.model_copy(update={"id": name, "twin": "seats"}) for name in ("left", "right"))
    after = beliefs(job(left, right, strength=strength, left=(Finding("look", "dead"),)))
    seen, moved = after["left"], after["right"]
    assert seen == {"wire": Fraction(4, 9), "motor": Fraction(3, 9), "something-else": Fraction(2, 9)}
    t = exact(strength)
    assert moved == {cause: (1 - t) * prior(SEAT)[cause] + t * seen[cause] for cause in CAUSES}


@pytest.mark.parametrize(("shared", "used"), [(("motor",), {"a", "b"}), ((), set())])
def test_pieces_that_failed_on_a_twin_are_used_for_a_fault_that_shares_their_cause(
    shared: tuple[str, ...], used: set[str]
) -> None:
    """The fault's own are told elsewhere, and a repair of what is not shared was tried on the twin alone."""
    tried = (FailedAttempt("swap", (A, B)), FailedAttempt("mend", (C,)))
    left, right = (
        SEAT.model_copy(update={"id": name, "twin": "seats", "shared_causes": shared}) for name in ("left", "right")
    )
    both = job(left, right, left=tried)
    assert (used_for_all(both, right), used_for_all(both, left)) == (used, set())


def test_what_cannot_be_is_no_belief() -> None:
    cannot = (ItIsNot("wire"), ItIsNot("motor"), ItIsNot("something-else"))
    twin, other = (SEAT.model_copy(update={"id": name, "twin": "seats"}) for name in ("left", "right"))
    after = beliefs(job(twin, other, SEAT, left=cannot))
    assert (after["left"], after["right"]) == (None, None)
    assert after["seat"] is not None


@pytest.mark.parametrize("seed", range(40))
def test_the_witness_believes_what_the_plan_believes(seed: int) -> None:
    """Fractions over one formula against logarithms over another, on three twins and one alone, whatever was seen."""
    rng = random.Random(seed)
    entries: list[Evidence] = [
        Finding("look", "dead"),
        Finding("look", "not-dead"),
        FailedAttempt("swap", (A,)),
        FailedAttempt("swap", (A, B)),
        FailedAttempt("swap", (B, C)),
        FailedAttempt("mend"),
        ItIsNot("wire"),
    ]
    twins = [SEAT.model_copy(update={"id": name, "twin": "seats"}) for name in ("left", "right", "rear")]
    seen = {f.id: tuple(rng.choices(entries, k=rng.randint(0, 3))) for f in (*twins, SEAT)}
    given = job(*twins, SEAT, strength=rng.choice([0.0, 0.3, 0.5, 1.0]), **seen)
    watched = standings(given)
    for fault, belief in beliefs(given).items():
        clash = any(watched[f].clash for f in ("seat",)) if fault == "seat" else any(watched[f.id].clash for f in twins)
        assert (belief is None) == clash
        if belief is not None:
            assert sum(belief.values()) == 1
            assert {c: float(p) for c, p in belief.items()} == pytest.approx(watched[fault].chances, abs=1e-12)


@pytest.mark.parametrize(
    ("amount", "whole"),
    [
        (Fraction(5, 2), 3),
        (Fraction(-5, 2), -2),
        (Fraction(-469667912, 10**6), -470),
        (exact(2.4999999999), 3),
        (exact(2.499999), 2),
        (Fraction(0), 0),
    ],
)
def test_halves_go_up_and_the_noise_of_floats_is_no_half(amount: Fraction, whole: int) -> None:
    assert half_up(amount) == whole
