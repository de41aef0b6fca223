"""Beliefs against everything written out in full: causes, suitability, soundness and the twins' common cause."""

from itertools import product
from math import prod, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.model.evidence import FailedAttempt, Finding, ItIs, ItIsNot, Piece
from optimiser.model.job import Check, Fault, Repair
from tests.effort import examples
from tests.one_fault import group_posteriors, kept_sound, posterior

CAUSES = ("a", "b", "something-else")
chance = st.floats(0.01, 0.99)
PIECES = [Piece("q:1", 0.3), Piece("q:2", 0.8), Piece("q:3", 0.55), Piece("q:4", 1.0)]


@st.composite
def faults(draw, ident="f"):
    checks = tuple(
        Check(id=f"k{i}", results={"r": {c: draw(chance) for c in CAUSES}}) for i in range(draw(st.integers(0, 3)))
    )
    repairs = tuple(Repair(id=f"r{i}", cures={c: draw(chance) for c in CAUSES}) for i in range(2))
    return Fault(
        id=ident, severity="minor", causes={"a": 1, "b": 2.5}, something_else=0.1, check=checks, repair=repairs
    )


@st.composite
def evidence(draw, fault):
    entries = [
        Finding(check.id, draw(st.sampled_from(["r", "not-r"]))) for check in fault.checks if draw(st.booleans())
    ]
    for _ in range(draw(st.integers(0, 3))):
        pieces = draw(st.lists(st.sampled_from(PIECES), unique=True, max_size=2))
        entries.append(FailedAttempt(draw(st.sampled_from(["r0", "r1"])), tuple(pieces)))
    if draw(st.booleans()):
        entries.append(ItIsNot("b"))
    return draw(st.permutations(entries))


def worlds(fault, entries, cause):
    """P(everything seen, this piece sound | cause) over every draw of suitability and of each repair's pieces."""
    attempts = [e for e in entries if isinstance(e, FailedAttempt)]
    for draws in product((True, False), repeat=2 + 2 * len(PIECES)):
        suits = dict(zip(("r0", "r1"), draws, strict=False))
        sound = dict(zip([(r, p) for r in ("r0", "r1") for p in PIECES], draws[2:], strict=True))
        weight = prod(r.cure(cause) if suits[r.id] else 1 - r.cure(cause) for r in fault.repairs)
        weight *= prod(p.good if sound[r, p] else 1 - p.good for r, p in sound)
        if weight and not any(suits[a.repair] and all(sound[a.repair, p] for p in a.pieces) for a in attempts):
            yield weight, sound


def likelihood(fault, entries, cause):
    value = sum(weight for weight, _ in worlds(fault, entries, cause))
    for entry in entries:
        if isinstance(entry, Finding):
            check = next(c for c in fault.checks if c.id == entry.check)
            value *= likelihoods(check, CAUSES)[entry.result][cause]
        if isinstance(entry, ItIsNot):
            value *= cause != entry.cause
        if isinstance(entry, ItIs):
            value *= cause == entry.cause
    return value


@examples(25)
@given(st.data())
def test_the_posterior_is_the_joint_distribution_written_out(data):
    fault = data.draw(faults())
    entries = data.draw(evidence(fault))
    joint = {c: p * likelihood(fault, entries, c) for c, p in prior(fault).items()}
    total = sum(joint.values())
    assert posterior(fault, entries).chances == pytest.approx({c: w / total for c, w in joint.items()}, abs=1e-12)


@examples(25)
@given(st.data())
def test_a_kept_piece_is_sound_as_the_joint_distribution_says(data):
    fault = data.draw(faults())
    tried = FailedAttempt("r0", (PIECES[0], PIECES[1]))
    entries = [*data.draw(evidence(fault)), tried]
    belief = posterior(fault, entries).chances
    joint = 0.0
    for cause, p in belief.items():
        all_worlds = list(worlds(fault, entries, cause))
        sound = sum(weight for weight, is_sound in all_worlds if is_sound["r0", PIECES[0]])
        joint += p * sound / sum(weight for weight, _ in all_worlds)
    assert kept_sound(fault, belief, entries, "r0", PIECES[0]) == pytest.approx(joint, abs=1e-12)


@examples(25)
@given(st.data(), st.floats(0, 1), st.integers(2, 3))
def test_twins_are_the_joint_distribution_written_out(data, strength, size):
    group = [data.draw(faults(ident=f"f{i}")) for i in range(size)]
    seen = {fault.id: data.draw(evidence(fault)) for fault in group}
    pi, share = prior(group[0]), sqrt(strength)
    own = {(f.id, c): likelihood(f, seen[f.id], c) for f in group for c in CAUSES}
    expected = {f.id: dict.fromkeys(CAUSES, 0.0) for f in group}
    for common, *causes in product(CAUSES, repeat=size + 1):
        weight = pi[common] * prod(share * (c == common) + (1 - share) * pi[c] for c in causes)
        weight *= prod(own[f.id, c] for f, c in zip(group, causes, strict=True))
        for fault, cause in zip(group, causes, strict=True):
            expected[fault.id][cause] += weight
    total = sum(expected["f0"].values())
    found = group_posteriors(group, seen, strength)
    for fault in group:
        whole = {c: w / total for c, w in expected[fault.id].items()}
        assert found[fault.id].chances == pytest.approx(whole, abs=1e-9)


@given(st.data())
def test_every_completed_column_sums_to_one(data):
    rows = data.draw(st.integers(1, 4))
    share = {c: [v / rows for v in data.draw(st.lists(st.floats(0, 1), min_size=rows, max_size=rows))] for c in CAUSES}
    results = {
        f"r{i}": {c: share[c][i] for c in CAUSES if data.draw(st.booleans()) and (rows == 1 or i > 0)}
        for i in range(rows)
    }
    full = likelihoods(Check(id="k", results=results), CAUSES)
    assert all(sum(full[r][c] for r in full) == pytest.approx(1, abs=1e-12) for c in CAUSES)
    assert all(0 <= full[r][c] <= 1 for r in full for c in CAUSES)
