"""What a careful mechanic does first: each pattern with money enough, and with little."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from optimiser import job_folder, patterns, service, starting
from optimiser.model.route import AttemptStep, CheckStep, Node, Route
from optimiser.money import Currency
from tests.unit.patterns.test_every_pattern import CATALOGUE, TODAY

pytestmark = pytest.mark.usefixtures("kept_for_all")
Seen = tuple[tuple[str, str], ...]
"""Checks made so far with what they showed; an attempt that did not cure shows that."""


def route(name: str, pot: int, purchase: int = 200) -> Route:
    currency = Currency.of("GBP")
    head = starting.head(starting.NewJob("Invented", currency, pot * 100, purchase * 100))
    text = head + patterns.fault_text(patterns.Wanted(CATALOGUE[name]), currency, {})
    (choice,) = service.plan(job_folder.job(Path("/nowhere"), TODAY, written=text)).choices
    assert choice.route is not None
    return choice.route


def walked(node: Node, seen: Seen = ()) -> Iterator[tuple[str, Seen]]:
    """Every check and attempt of a route, with all that was seen before it."""
    if isinstance(node, CheckStep | AttemptStep):
        step = node.check if isinstance(node, CheckStep) else node.option.repair
        yield step, seen
        for branch in node.then:
            yield from walked(branch.then, (*seen, (step, branch.result)))


@pytest.mark.parametrize("pot", [300, 400, 700])
def test_a_handbrake_is_adjusted_on_good_linings_only(pot: int) -> None:
    before = {step: [dict(seen) for s, seen in walked(route("handbrake-weak", pot).first) if s == step]
              for step in ("adjust", "cables", "shoes", "shoes-and-cylinders")}  # fmt: skip
    assert before["adjust"]
    assert all(seen["drums-open"] == "sound" for step in ("adjust", "cables") for seen in before[step])
    assert all(seen["drums-open"] != "wet" for seen in before["shoes"])
    assert any(seen["drums-open"] == "wet" for seen in before["shoes-and-cylinders"])


@pytest.mark.parametrize("pot", [300, 400, 600])
def test_an_outboard_is_looked_at_with_its_engine_off_first(pot: int) -> None:
    found = route("outboard-no-cooling-jet", pot)
    (step, seen), *_ = walked(found.first)
    assert (step, seen) == ("look", ())
    made = {step.check for step in found.checks}
    titles = [row["title"] for row in CATALOGUE["outboard-no-cooling-jet"].tables["fault"][0]["check"]]
    assert made <= {"look", "drop-leg"}
    assert not any("running" in title for title in titles)


@pytest.mark.parametrize("pot", [300, 400, 700, 1200])
def test_an_engine_that_overheats_is_looked_at_cold_and_lost_coolant_is_traced(pot: int) -> None:
    steps = list(walked(route("engine-overheats", pot).first))
    assert steps[0] == ("level-and-hoses", ())
    low = [step for step, seen in steps if ("level-and-hoses", "low") in seen]
    assert {"where-it-went", "mend-leak"} & set(low[:2])
    assert not {"thermostat", "radiator"} & set(low)


@pytest.mark.parametrize("pot", [400, 1200, 2000])
def test_gas_in_the_coolant_is_looked_for_before_a_radiator_or_a_head(pot: int) -> None:
    """Gas that a head gasket lets through shows for nothing, in the first look; of bubbles a test makes sure."""
    steps = [(step, dict(seen)) for step, seen in walked(route("engine-overheats", pot).first)]
    assert all("level-and-hoses" in seen for step, seen in steps if step in ("radiator", "head-gasket"))
    bubbling = [step for step, seen in steps if seen.get("level-and-hoses") == "bubbles-on"]
    assert "radiator" not in bubbling[:2]


@pytest.mark.parametrize("pot", [300, 400, 1200])
def test_a_wiper_fuse_is_looked_at_before_anything_is_stripped(pot: int) -> None:
    """No motor hums on a blown fuse, and with power at its plug and no hum no spindles are freed."""
    steps = list(walked(route("wipers-dead", pot).first))
    assert steps[0] == ("fuse-and-listen", ())
    lit = (("fuse-and-listen", "fuse-whole-and-silent"), ("test-lamp", "lights"))
    assert next((step for step, seen in steps if seen == lit), "motor") == "motor"


@pytest.mark.parametrize("pot", [400, 700, 1200])
def test_a_child_lock_is_looked_at_before_the_trim_comes_off(pot: int) -> None:
    steps = list(walked(route("door-not-from-inside", pot).first))
    assert steps[0] == ("child-lock", ())
    assert all(("child-lock", "on") in seen for step, seen in steps if step == "switch-over")
    (trim,) = CATALOGUE["door-not-from-inside"].tables["access"]
    assert "Child lock" in trim["title"]


@pytest.mark.parametrize("pot", [280, 400, 1200])
def test_no_coupling_head_is_bought_before_it_sat_on_a_good_ball(pot: int) -> None:
    before = [dict(seen) for step, seen in walked(route("trailer-coupling-worn", pot).first) if step == "head"]
    assert all("catch-and-good-ball" in seen for seen in before)


@pytest.mark.parametrize("pot", [400, 700, 1200])
def test_thick_pads_that_grind_are_not_renewed_and_a_thin_disc_is(pot: int) -> None:
    steps = [(step, dict(seen)) for step, seen in walked(route("brake-pads-discs", pot).first)]
    thick = [step for step, seen in steps if any("thick" in result for result in seen.values())]
    assert not {"pads", "pads-and-discs"} & set(thick)
    assert {step for step, seen in steps if seen.get("measure-disc") == "below-limit"} >= {"pads-and-discs"}


@pytest.mark.parametrize("pot", [300, 400, 1200])
def test_a_trailers_drawbar_is_looked_at_before_its_drums_come_off(pot: int) -> None:
    assert next(walked(route("trailer-brakes-bind", pot).first)) == ("drawbar", ())


@pytest.mark.parametrize("pot", [210, 240, 700])
def test_no_bulb_and_no_fuse_is_fitted_before_somebody_walked_round(pot: int) -> None:
    steps = list(walked(route("indicators-fast-or-dead", pot).first))
    assert steps[0] == ("walk-round", ())
    assert all(("walk-round", "all-out-fuse-blown") in seen for step, seen in steps if step == "fuse")


def test_a_timing_belt_that_failed_is_followed_by_no_second_one() -> None:
    attempts = [step for step, _ in walked(route("timing-belt-overdue", 2000).first)]
    assert attempts == ["workshop"]


def test_a_winch_is_stripped_once() -> None:
    fault = CATALOGUE["boat-winch-stiff"].tables["fault"][0]
    stripped = {row["id"] for row in (*fault["check"], *fault["repair"]) if "winch-stripped" in row.get("access", ())}
    assert {"strip-and-look", "wash", "pawls", "gear"} <= stripped
    assert not any("trip" in row["title"] and row["id"] != "strip-and-look" for row in fault["repair"])


def test_what_a_look_at_the_brakes_undid_is_made_good_before_the_next() -> None:
    titles = {row["id"]: row["title"] for row in CATALOGUE["brake-binds"].tables["fault"][0]["check"]}
    assert "bleed" in titles["bleed-screw"]
    assert all(word in titles["master-nuts"] for word in ("bled", "press the pedal again", "maker's torque"))


@pytest.mark.parametrize("pot", [400, 700])
def test_a_motorbike_is_looked_at_before_anything_is_bought_for_it(pot: int) -> None:
    """A chain is set or oiled only where it sits on good teeth; the tap is shut before bowls are opened."""
    chain = [(step, dict(seen)) for step, seen in walked(route("motorbike-chain-worn", pot).first)]
    assert chain[0] == ("pull-and-turn", {})
    on_old = [seen for step, seen in chain if step in ("adjust", "clean-and-oil") and "kit" not in seen]
    assert on_old
    assert all(seen["pull-and-turn"].startswith("sits") for seen in on_old)
    floods = next(walked(route("motorbike-carburettor-floods", 700).first))
    assert floods == ("tap-shut", ())
    fork = [(step, dict(seen)) for step, seen in walked(route("motorbike-fork-leaks", pot).first)]
    assert all(s["feel-tube"] == "not-pitted" for step, s in fork if step == "seals")


@pytest.mark.parametrize("pot", [280, 420, 1200])
@pytest.mark.parametrize(
    ("name", "look"),
    [
        ("brake-pulls", "calipers-off"), ("brake-pads-discs", "torch"), ("ride-on-safety-switch", "look-and-work"),
        ("machine-fuel-leak", "look-cold"),
    ],
)  # fmt: skip
def test_what_is_dangerous_is_looked_at_before_anything_is_bent_or_bought(name: str, look: str, pot: int) -> None:
    found = route(name, pot).first
    assert isinstance(found, CheckStep)
    assert found.check == look or (name, found.check) == ("brake-pads-discs", "measure-disc")


@pytest.mark.parametrize(
    ("name", "repair", "look"),
    [
        ("wheel-bearing-noise", "bearing", "rock and spin"), ("brake-pedal-spongy", "adjust", "linings looked at"),
        ("trailer-brakes-weak", "adjust", "look at the linings"), ("mower-blade-blunt", "sharpen", "looked along"),
        ("seacock-seized", "nip-gland", "looked at"), ("tyres-too-old", "axle", "date read"),
        ("motorbike-fork-leaks", "seals", "felt for pits"), ("trailer-brakes-bind", "set", "look at the linings"),
        ("boat-steering-stiff", "pivot", "swung by hand"), ("boat-steering-stiff", "tube", "look along it"),
        ("stern-gland-drips", "nip", "thread looked at"), ("hull-cracked", "gelcoat", "tapped all round"),
        ("breakaway-cable", "cable", "point of its own"), ("handbrake-weak", "adjust", "look at the linings"),
    ],
)  # fmt: skip
def test_cheap_work_on_what_is_dangerous_has_its_look_in_it_and_where_to_stop(
    name: str, repair: str, look: str
) -> None:
    """However little money there is, such work may come first: it may then not be done unseen."""
    rows = {row["id"]: row["title"] for row in CATALOGUE[name].tables["fault"][0]["repair"]}
    before, stop, _ = rows[repair].lower().partition("stop and write it down")
    assert stop
    assert look in before


def test_old_tyres_are_bought_for_an_axle_or_for_all_wheels() -> None:
    rows = CATALOGUE["tyres-too-old"].tables["fault"][0]["repair"]
    assert sorted(row["parts"]["tyre-of-a-set"] for row in rows if "parts" in row) == [2, 4]
    bought = [step for step, seen in walked(route("tyres-too-old", 1200).first) if step in ("axle", "set") and not seen]
    assert bought == []


def test_what_carries_high_pressure_is_a_workshops() -> None:
    rows = CATALOGUE["diesel-leak"].tables["fault"][0]["repair"]
    cure = [row["id"] for row in rows if "chance" in row or "high-pressure-side-leaks" in row["cures"]]
    assert cure == ["workshop"]


@pytest.mark.parametrize("pot", [400, 1200])
def test_what_a_result_has_answered_is_not_asked_or_tried_again(pot: int) -> None:
    """Free looks before a paid test; a loss of coolant that was seen is not pumped for, a sound fuse not renewed."""
    coolant = [(step, dict(seen)) for step, seen in walked(route("coolant-lost", pot).first)]
    assert coolant[0] == ("look-for-stains", {})
    assert all(seen["look-for-stains"] == "nowhere" for step, seen in coolant if step == "pump-up")
    blades = [(step, dict(seen)) for step, seen in walked(route("mower-blade-clutch", pot).first)]
    assert all(seen.get("look") != "all-sound" for step, seen in blades if step == "fuse-and-plug")
    starter = [(step, dict(seen)) for step, seen in walked(route("starter-slow", pot).first)]
    assert all(seen.get("drop-test") != "no-loss" for step, seen in starter if step in ("terminals", "strap"))


@pytest.mark.parametrize("pot", [240, 400])
def test_free_play_is_set_on_a_cable_without_slack_alone(pot: int) -> None:
    steps = [(step, dict(seen)) for step, seen in walked(route("clutch-slips", pot).first)]
    assert steps[0] == ("feel-play", {})
    told = {seen["feel-play"] for step, seen in steps if step == "free-play"}
    assert "cable-without-slack" in told
    assert not told & {"hydraulic-and-free", "cable-with-slack"}


@pytest.mark.parametrize("pot", [300, 400, 1200])
@pytest.mark.parametrize(
    ("name", "look"),
    [
        ("machine-steering-loose", "wheels-on-the-ground"), ("trailer-wheel-bearing", "spin-and-rock"),
        ("trailer-winch-strap", "look"),
    ],
)  # fmt: skip
def test_what_is_dangerous_on_a_machine_or_a_trailer_is_looked_at_first(name: str, look: str, pot: int) -> None:
    assert next(walked(route(name, pot).first)) == (look, ())


def test_an_impellers_lost_vanes_are_fished_out() -> None:
    for name in ("outboard-no-cooling-jet", "raw-water-cooling-weak"):
        title = next(r["title"] for r in CATALOGUE[name].tables["fault"][0]["repair"] if r["id"] == "impeller").lower()
        assert "fish" in title
        assert "key" in title
