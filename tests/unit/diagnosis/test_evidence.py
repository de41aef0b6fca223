"""Failed attempts, findings and what clashes."""

import pytest

from optimiser.diagnosis.evidence import as_it_went, none_sound, not_cured
from optimiser.model.evidence import Cured, FailedAttempt, Finding, ItIs, ItIsNot, Piece
from optimiser.model.job import Check, Fault, Repair
from tests.one_fault import group_posteriors, kept_sound, posterior

BLOWER = Fault(
    id="blower",
    severity="minor",
    causes={"fuse": 1, "motor": 3},
    something_else=0.2,
    check=(
        Check(id="feed", results={"spins": {"fuse": 1.0, "motor": 0.0, "something-else": 0.5}}),
        Check(id="look", results={"black": {"fuse": 0.0, "motor": 0.4, "something-else": 0.0}, "clean": {}}),
    ),
    repair=(
        Repair(id="motor", cures={"motor": 0.9}, parts={"motor": 1}),
        Repair(id="fuse", cures={"fuse": 1.0}),
        Repair(id="any", chance=0.5),
    ),
)


def chances(*seen):
    standing = posterior(BLOWER, seen)
    assert not standing.clash
    return standing.chances


def test_a_finding_moves_the_odds_by_bayes():
    # 0.2, 0.6, 0.2 against 1, 0, 0.5
    assert chances(Finding("feed", "spins")) == pytest.approx({"fuse": 2 / 3, "motor": 0, "something-else": 1 / 3})


def test_it_is_and_it_is_not():
    assert chances(ItIs("motor")) == {"fuse": 0, "motor": 1, "something-else": 0}
    assert chances(ItIsNot("motor")) == pytest.approx({"fuse": 0.5, "motor": 0, "something-else": 0.5})


def test_an_entry_said_twice_is_said_once():
    once = Finding("look", "clean")
    assert chances(once, once) == chances(once)
    tried = FailedAttempt("motor", (Piece("q:1", 0.5),))
    assert chances(tried, tried) == chances(tried)
    assert chances(once, tried, once) == chances(once, tried)


def test_a_second_part_is_no_fresh_luck_for_a_repair_that_does_not_suit():
    assert not_cured(0.9, [[Piece("q:1", 0.5)]]) == pytest.approx(0.55)
    assert not_cured(0.9, [[Piece("q:1", 0.5)], [Piece("q:2", 0.5)]]) == pytest.approx(1 - 0.9 * 0.75)
    assert not_cured(0.9, [[Piece("q:1", 1.0)], [Piece("q:2", 1.0)]]) == pytest.approx(0.1)


def test_no_attempt_cures_nothing():
    assert not_cured(0.9, []) == 1.0


def test_a_repair_without_parts_hangs_on_its_suitability_alone():
    assert not_cured(0.9, [()]) == pytest.approx(0.1)
    assert not_cured(0.9, [(), ()]) == pytest.approx(0.1)


def test_a_piece_in_two_sets_is_drawn_once():
    a, b, c = Piece("q:1", 0.5), Piece("q:2", 0.8), Piece("q:3", 0.4)
    # a sound (0.5): neither b nor c may be; a not sound: no set is
    assert none_sound([(a, b), (a, c)]) == pytest.approx(0.5 * 0.2 * 0.6 + 0.5)


def test_a_kept_piece_just_after_the_failure():
    tried = FailedAttempt("motor", (Piece("q:1", 0.7), Piece("q:2", 0.8)))
    after = posterior(BLOWER, [tried]).chances
    # g(1-m)/(1-gm), m the chance that the attempt would have cured had this piece been sound: 0.6 * 0.9 * 0.8
    m = 0.6 * 0.9 * 0.8
    kept = kept_sound(BLOWER, after, [tried], "motor", Piece("q:1", 0.7))
    assert kept == pytest.approx(0.7 * (1 - m) / (1 - 0.7 * m))


def test_a_kept_piece_is_as_good_as_new_once_the_cause_is_seen_to_be_another():
    entries = [FailedAttempt("motor", (Piece("q:1", 0.7),)), ItIs("fuse")]
    after = posterior(BLOWER, entries).chances
    assert kept_sound(BLOWER, after, entries, "motor", Piece("q:1", 0.7)) == pytest.approx(0.7)


def test_of_two_pieces_that_failed_the_one_that_cured_later_was_not_to_blame():
    """The repair cured with the second of them and another first one: so the first was bad."""
    first, second = Piece("q:1", 0.7), Piece("q:2", 0.8)
    entries = [FailedAttempt("motor", (first, second)), Cured("motor", (Piece("q:3", 0.6), second))]
    after = posterior(BLOWER, entries).chances
    assert after["motor"] == 1.0
    assert kept_sound(BLOWER, after, entries, "motor", first) == 0.0
    assert kept_sound(BLOWER, after, entries, "motor", second) == pytest.approx(1.0)


def test_how_failures_beside_a_cure_are_reckoned():
    """It suits (0.9), both pieces of the cure are sound (0.5, 0.8), and so the third one failed (1 - 0.4)."""
    a, b, c = Piece("q:1", 0.5), Piece("q:2", 0.8), Piece("q:3", 0.4)
    assert as_it_went(0.9, [(a, c)], [(a, b)]) == pytest.approx(0.9 * 0.5 * 0.8 * 0.6)
    assert as_it_went(0.9, [(a,)], [(a, b)]) == 0.0


def test_what_clashes_is_named_and_nothing_else_is():
    spins, black, clean_any = Finding("feed", "spins"), Finding("look", "black"), FailedAttempt("any")
    standing = posterior(BLOWER, [clean_any, spins, black])
    assert standing.clash == (("blower", spins), ("blower", black))


def test_zeros_are_read_as_a_hundredth_until_the_clash_is_mended():
    standing = posterior(BLOWER, [Finding("feed", "spins"), Finding("look", "black")])
    weights = {"fuse": 0.2 * 1 * 0.01, "motor": 0.6 * 0.01 * 0.4, "something-else": 0.2 * 0.5 * 0.01}
    total = sum(weights.values())
    assert standing.chances == pytest.approx({c: w / total for c, w in weights.items()})


def test_two_zeros_are_a_hundredth_twice():
    standing = posterior(BLOWER, [Finding("feed", "spins"), Finding("look", "black"), ItIs("fuse")])
    weights = {"fuse": 0.2 * 0.01, "motor": 0.6 * 0.4 * 0.01**2, "something-else": 0.2 * 0.5 * 0.01**2}
    assert standing.chances == pytest.approx({c: w / sum(weights.values()) for c, w in weights.items()})


def test_a_sure_cure_that_failed_clashes_with_having_seen_its_cause():
    standing = posterior(BLOWER, [ItIs("fuse"), FailedAttempt("fuse")])
    assert len(standing.clash) == 2
    # 1 * 0.01 against 0.01 * 1 on the others: back to the odds
    assert standing.chances == pytest.approx({"fuse": 0.2, "motor": 0.6, "something-else": 0.2})


def test_one_impossible_entry_clashes_alone():
    certain = BLOWER.model_copy(update={"something_else": 0.0})
    seen = Finding("feed", "not-spins")
    never = certain.model_copy(update={"causes": {"fuse": 1.0}})
    never = never.model_copy(update={"checks": (Check(id="feed", results={"spins": {"fuse": 1}}),)})
    standing = posterior(never, [ItIsNot("something-else"), seen])
    assert standing.clash == (("blower", seen),)
    assert standing.chances == {"fuse": 1.0, "something-else": 0.0}


def test_a_thousand_small_chances_do_not_vanish():
    checks = tuple(
        Check(id=f"k{i}", results={"r": {"fuse": 1e-5, "motor": 2e-5, "default": 1e-5}}) for i in range(1000)
    )
    many = BLOWER.model_copy(update={"checks": checks})
    few = posterior(many, [Finding("k0", "r"), Finding("k1", "r")]).chances
    assert few["motor"] == pytest.approx(0.6 * 4 / (0.6 * 4 + 0.4))
    assert posterior(many, [Finding(f"k{i}", "r") for i in range(1000)]).chances["motor"] == pytest.approx(1.0)
    assert posterior(many, [Finding(f"k{i}", "r") for i in range(1000)]).clash == ()


@pytest.mark.parametrize(
    ("entry", "named"),
    [
        (Finding("smell", "burnt"), 'no check "smell"'),
        (Finding("feed", "burnt"), 'no result "burnt"'),
        (ItIs("gremlin"), 'no cause "gremlin"'),
        (ItIsNot("gremlin"), 'no cause "gremlin"'),
        (FailedAttempt("prayer"), 'no repair "prayer"'),
    ],
)
def test_entries_that_the_fault_does_not_know_are_refused_by_name(entry, named):
    with pytest.raises(ValueError, match=named):
        posterior(BLOWER, [entry])


LEFT = BLOWER.model_copy(update={"id": "left"})
RIGHT = BLOWER.model_copy(update={"id": "right"})


def test_the_first_finding_moves_a_twin_by_the_strength():
    seen = {"left": [Finding("look", "clean")]}
    for strength in (0.0, 0.3, 1.0):
        group = group_posteriors([LEFT, RIGHT], seen, strength)
        before, after = posterior(LEFT).chances, posterior(LEFT, seen["left"]).chances
        assert group["left"].chances == pytest.approx(after)
        expected = {c: (1 - strength) * before[c] + strength * after[c] for c in before}
        assert group["right"].chances == pytest.approx(expected)


def test_a_clash_between_twins_that_are_one_softens_both_and_leaves_a_third_alone():
    third = BLOWER.model_copy(update={"id": "third"})
    seen = {"left": [ItIs("fuse")], "right": [ItIs("motor")], "third": [Finding("look", "clean")]}
    group = group_posteriors([LEFT, RIGHT, third], seen, 1.0)
    both = (("left", ItIs("fuse")), ("right", ItIs("motor")))
    assert group["left"].clash == group["right"].clash == both
    assert group["third"].clash == ()
    assert sum(group["third"].chances.values()) == pytest.approx(1)


def test_a_clash_on_one_member_softens_that_member_alone():
    seen = {"left": [ItIs("fuse"), ItIsNot("fuse")], "right": [ItIs("motor")]}
    group = group_posteriors([LEFT, RIGHT], seen, 0.5)
    assert len(group["left"].clash) == 2
    assert group["right"].clash == ()
    assert group["right"].chances["motor"] == 1.0


def test_twins_that_may_differ_do_not_clash():
    group = group_posteriors([LEFT, RIGHT], {"left": [ItIs("fuse")], "right": [ItIs("motor")]}, 0.99)
    assert not group["left"].clash
    assert group["left"].chances["fuse"] == 1.0


def test_twins_with_other_odds_are_refused():
    other = RIGHT.model_copy(update={"causes": {"fuse": 1, "motor": 4}})
    with pytest.raises(ValueError, match='"left" and "right"'):
        group_posteriors([LEFT, other], {}, 0.5)


@pytest.mark.parametrize("odds", [1e9, 1e200])
def test_odds_of_shared_causes_that_swamp_the_rest_divide_by_nothing(odds: float) -> None:
    """Once the shared cause is mended and the fault is still there it is the other, however unlikely it was."""
    fault = Fault(
        id="left", severity="minor", causes={"fuse": odds, "lead": 1 / odds}, something_else=0.0,
        twin="pair", shared_causes=("fuse",), repairs=(Repair(id="fuse", cures={"fuse": 1.0}),),
    )  # fmt: skip
    pair = [fault, fault.model_copy(update={"id": "right"})]
    assert group_posteriors(pair, {}, 0.5)["right"].chances["fuse"] == pytest.approx(1.0)
    if odds < 1e100:
        after = group_posteriors(pair, {"left": [FailedAttempt(repair="fuse")]}, 0.5)
        assert after["left"].chances == {"fuse": 0.0, "lead": pytest.approx(1.0), "something-else": 0.0}
