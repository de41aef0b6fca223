"""Sentences: one for every reason, remark and bar, all filled in, nothing of anybody's text raw."""

from __future__ import annotations

import re
import unicodedata
from typing import Any

import pytest

from optimiser import service
from optimiser.errors import CallError, InputError, Problem
from optimiser.model.job import Part
from optimiser.model.option import Bar, NotOffered
from optimiser.model.plan import (
    COST_AND_TIME,
    LAST,
    CheckWorth,
    Forced,
    Grounds,
    Notice,
    OrderLine,
    Outcome,
    Reason,
    Remark,
    SwitchPoints,
    per_minor,
)
from optimiser.model.quotes import Supplier
from optimiser.show import compare_words, route_words, steps, wording
from tests.tiny_job import BASE, HORN, LAMP, NEW, ROUTED, USED, but, planned, routed

RAW = "a\x1b[31mb\x9b31mc\u202ed\ne\u2066f\x07g\x7fh\u2028i\u200bj\rk"


def safe(text: str) -> bool:
    return all(unicodedata.category(sign) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") for sign in text)


def whole(sentence: str) -> bool:
    """A sentence with nothing left to fill in, that begins and ends as sentences do."""
    return not re.search(r"[{}]|None|<|\bnan\b", sentence) and sentence[-1] in ".!;:" and sentence == sentence.strip()


def test_plain_makes_every_control_sign_visible() -> None:
    assert wording.plain(RAW) == (r"a\x1b[31mb\x9b31mc\u202ed\ne\u2066f\x07g\x7fh\u2028i\u200bj\rk")
    assert safe(wording.plain(RAW))


def test_plain_leaves_words_of_any_language_alone() -> None:
    for text in ("Überfuß naïve 5 µm ½", "Ελληνικά", "日本語", "emoji 🔧"):
        assert wording.plain(text) == text


def evil_job() -> Any:
    quote = but(NEW, ref=RAW, note=RAW)
    return but(
        BASE,
        settings=but(BASE.settings, title=RAW),
        parts=(Part(id="disc", title=RAW),),
        faults=(but(HORN, title=RAW, systems=(RAW,), repairs=(but(HORN.repairs[0], title=RAW),)), but(LAMP, title=RAW)),
        quotes=(quote, USED),
        suppliers=tuple(but(s, title=RAW, note=RAW) for s in BASE.suppliers),
    )


@pytest.fixture(scope="module")
def evil() -> Any:
    return service.plan(evil_job())


@pytest.mark.parametrize("reason", Reason)
@pytest.mark.parametrize("taken", [True, False])
def test_every_reason_has_a_sentence(evil: Any, reason: Reason, taken: bool) -> None:
    choice = evil.choice("horn")
    rival = choice.why.other
    why = Grounds(reason=reason, other=rival, cost_minor=-150, chance=-0.07)
    said = wording.why(evil.job, choice.model_copy(update={"why": why} | ({} if taken else {"option": None})))
    assert whole(said)
    assert safe(said)


def test_a_left_faults_sentence_is_a_sentence_without_its_first_word() -> None:
    """The terminal says "Leave it." and then the rest, which must begin like a sentence."""
    for reason, said in wording.WHY.items():
        assert (reason in LEFT) == said.startswith("Left. "), reason
        rest = said.removeprefix("Left. ")
        assert rest[0].isupper() or rest.startswith("{rival}"), reason


LEFT = {
    Reason.NOTHING_OFFERED, Reason.TOO_DEAR, Reason.NO_MONEY, Reason.NO_HOURS, Reason.NO_STOCK,
    Reason.NO_MORE_SUPPLIERS, Reason.OTHERS_FIRST, Reason.NOT_WORTH_IT, Reason.LEFT_AS_IT_IS,
}  # fmt: skip


@pytest.mark.parametrize("remark", Remark)
def test_every_remark_has_a_sentence(evil: Any, remark: Remark) -> None:
    about = ("horn" if remark in wording.ABOUT_FAULTS else "{0}", "{rest}", "3", "4")
    said = wording.notice(evil.job, Notice(remark=remark, about=about))
    assert said[-1] in ".!?"
    assert safe(said)
    filled = said.replace("{0}", "").replace("{rest}", "")  # braces in somebody's id are theirs, and stay
    assert not re.search(r"[{}]", filled)


@pytest.mark.parametrize("bar", Bar)
def test_no_bar_needs_a_detail(evil: Any, bar: Bar) -> None:
    assert wording.because(evil.job, NotOffered(kind="repair", id="horn/swap", bar=bar))


@pytest.mark.parametrize("bar", Bar)
@pytest.mark.parametrize("kind", ["quote", "owned", "repair", "check", "fault"])
def test_every_bar_has_a_reason(evil: Any, bar: Bar, kind: str) -> None:
    names = {"quote": "quotes.csv:2", "owned": "owned:1", "repair": "horn/swap", "check": "horn/look", "fault": "horn"}
    name = names[kind]
    detail = "2026-11-23" if bar in (Bar.LAPSED, Bar.LATE) else RAW
    said = wording.not_offered(evil.job, NotOffered(kind=kind, id=name, bar=bar, detail=detail))
    assert said.startswith(wording.BARRED_KINDS[kind])
    assert re.search(r": \w.{8}", said)
    assert safe(said)
    assert "{" not in said


def test_headline_title_and_names_are_safe(evil: Any) -> None:
    job, choice = evil.job, evil.choices[0]
    for said in (wording.title(job), wording.headline(evil), wording.fault(choice), wording.part(job, "disc"),
                 wording.supplier(job, "alder"), wording.repair(job, choice.option),
                 wording.sources(job, choice.option), wording.order_sums(job, evil.orders[0])):  # fmt: skip
        assert said
        assert safe(said)


@pytest.mark.parametrize(("value", "said"), [(1.0, "100%"), (0.999, "over 99%"), (0.995, "over 99%"), (0.994, "99%"),
                                             (0.5, "50%"), (0.004, "under 1%"), (1e-12, "under 1%"), (0.0, "0%"),
                                             (1 - 1e-12, "over 99%")])  # fmt: skip
def test_chance_is_never_rounded_to_a_certainty(value: float, said: str) -> None:
    assert wording.chance(value) == said


@pytest.mark.parametrize(("minutes", "said"), [(0, "0 min"), (59, "59 min"), (60, "1 h"), (65, "1 h 05 min"),
                                               (1500, "25 h")])  # fmt: skip
def test_hours(minutes: int, said: str) -> None:
    assert wording.hours(minutes) == said


def test_headlines_say_how_many_are_left() -> None:
    assert wording.headline(planned("base")) == (
        "With 20.00 GBP to spend: work on 2 of 2 faults (nothing is left), 1.48 fixes expected."
    )
    assert "work on 1 of 2 faults (1 is left)" in wording.headline(planned("set"))
    assert "With 0.00 GBP to spend: work on 0 of 2 faults (2 are left)" in wording.headline(planned("overdrawn"))
    assert wording.headline(planned("empty")) == 'The job lists no faults yet: optimiser add "WHAT IS WRONG" adds one.'
    heavy = service.plan(but(BASE, faults=(but(HORN, importance=2), LAMP)))
    assert "1.48 fixes expected (2.36 weighted by importance)" in wording.headline(heavy)


def test_best_found_is_never_called_best() -> None:
    plan = planned("base")

    def said_of(outcome: Outcome) -> str:
        return wording.outcome(but(plan, selection=but(plan.selection, outcome=outcome)))

    assert said_of(Outcome(proven=True)) == "Proven: no other mix does better under the rules of this job."
    for outcome in (
        Outcome(proven=False, stage="dangerous", unit="fixes", better_at_most=12),
        Outcome(proven=False, stage="dangerous-and-major", unit="fixes", better_at_most=12),
        Outcome(proven=False, stage="all-faults", unit="fixes", better_at_most=12),
        Outcome(proven=False, stage="net-cost", unit="money", better_at_most=12),
        Outcome(proven=False, stage="profit", unit="money", better_at_most=12),
    ):
        said = said_of(outcome)
        assert said.startswith("Best found in the time allowed: another mix may be up to 0.")
        assert "roven" not in said
        assert whole(said)


@pytest.mark.parametrize(
    ("better", "said"), [(4_554_000, "4.56"), (1, "0.000001"), (12_345, "0.0124"), (99_999_999, "100")]
)
def test_a_gap_is_said_in_few_digits_and_never_too_small(better: int, said: str) -> None:
    plan = planned("base")
    outcome = Outcome(proven=False, stage="all-faults", unit="fixes", better_at_most=better)
    assert f"up to {said} fixes better" in wording.outcome(but(plan, selection=but(plan.selection, outcome=outcome)))


def test_a_proof_says_that_checks_were_left_out() -> None:
    """With one of them another mix may be better by as much as the job says."""
    plan = planned("base")
    idle = CheckWorth(check="listen", fixes=0.001, saved_minor=0, minutes=5, left_out=True)
    without = but(plan, choices=(but(plan.choices[0], checks=(idle,)), *plan.choices[1:]))
    assert wording.outcome(without) == (
        "Proven, without checks that gain less than 0.005 of a fix: no other mix does better under the rules of this"
        " job."
    )
    asks = but(plan.job, settings=but(plan.job.settings, check_must_gain=0.9))
    assert "checks that gain less than 0.9 of a fix:" in wording.outcome(but(without, job=asks))
    taken = but(plan, choices=(but(plan.choices[0], checks=(but(idle, left_out=False),)), *plan.choices[1:]))
    assert wording.outcome(taken).startswith("Proven: ")


def test_switch_points_are_said_in_price_pack_price_and_chance() -> None:
    plan = planned("base")
    option = plan.choice("horn").option
    assert option is not None

    def said(**points: Any) -> str:
        given = SwitchPoints(**({"surcharge_minor": 850, "chance": 0.72, "pack_minor": 1750} | points))
        row = Forced(option=option, alone_minor=900, plan=plan, switch=given)
        sentences = compare_words.switch(plan.job, row)
        assert all(whole(sentence) for sentence in sentences)
        return " ".join(sentences)

    assert "up to a price of 17.50 GBP alone (now 9.00 GBP)" in said()
    assert "up to 17.50 GBP a pack" in said()
    assert "down to a chance of 0.7200 (now 0.8820)" in said()
    assert "any fall would lose it" in said(chance=0.882, any_fall_loses=True)
    assert "0.0000" not in said(chance=0.0)


def test_switch_points_that_are_not_known_are_not_guessed() -> None:
    plan = planned("base")
    option = plan.choice("horn").option
    assert option is not None
    (said,) = compare_words.switch(plan.job, Forced(option=option, alone_minor=900, plan=plan))
    assert "not proven" in said


def test_what_the_rest_loses() -> None:
    plan = planned("base")
    option = plan.choice("horn").option
    assert option is not None
    row = Forced(option=option, alone_minor=900, plan=None)
    assert compare_words.loses(plan, row) == "does not fit the stock or the pot"
    few = plan.model_copy(update={"job": but(BASE, settings=but(BASE.settings, most_suppliers=1))})
    assert compare_words.loses(few, row) == "does not fit the stock, the pot or the number of suppliers"
    assert "time allowed" in compare_words.loses(plan, row.model_copy(update={"known": False}))
    assert compare_words.loses(plan, row.model_copy(update={"plan": plan})) == "costs no other fault anything"
    last = next(stage for stage in LAST if stage in plan.selection.levels)
    levels = {**plan.selection.levels, last: plan.selection.levels[last] + 250 * per_minor(last)}
    dearer = plan.model_copy(update={"selection": plan.selection.model_copy(update={"levels": levels})})
    said = compare_words.loses(plan, row.model_copy(update={"plan": dearer}))
    assert said.startswith("costs no other fault anything, and comes 2.50 GBP dearer in all")
    assert said.endswith(" with your time counted") == (last == COST_AND_TIME)
    gone = compare_words.loses(plan, row.model_copy(update={"plan": planned("set"), "loses": ("lamp",)}))
    weaker = compare_words.loses(plan, row.model_copy(update={"plan": plan, "loses": ("lamp",)}))
    assert "lamp" in gone
    assert "smaller chance" in weaker
    assert gone != weaker


def test_problems_name_place_finding_expectation_and_mend_safely() -> None:
    problem = Problem(RAW, RAW, RAW, RAW * 50, RAW, RAW)
    said = wording.error(InputError([problem, problem], left_out=3))
    assert said.startswith("5 problems in the job (the first 2 are listed); nothing was planned and nothing written.")
    assert all(safe(line) for line in said.split("\n"))
    assert [word for word in ("found", "expected", "mend") if word not in said] == []
    assert max(map(len, said.split("\n"))) < 400


def test_errors_of_the_call_and_of_the_program_are_safe_and_say_what_to_do() -> None:
    call = wording.error(CallError(RAW, RAW))
    assert all(safe(line) for line in call.split("\n"))
    ours = wording.error(RuntimeError(RAW))
    assert ours.startswith("This is a fault of the program, not of your job: RuntimeError at nowhere:")
    assert "Please report" in ours
    assert all(safe(line) for line in ours.split("\n"))


def test_an_overdrawn_pot_without_a_currency_is_said_without_a_code() -> None:
    job = but(BASE, settings=but(BASE.settings, currency="XXX"))
    assert "XXX" not in wording.notice(job, Notice(remark=Remark.OVERSPENT, about=("5.55",)))


@pytest.mark.parametrize(("entries", "said"), [(("5",), "(entry 5)"), (("5", "6"), "(entries 5, 6)")])
def test_an_order_that_joins_another_is_said_by_the_shop_s_name(entries: tuple[str, ...], said: str) -> None:
    job = but(BASE, suppliers=(Supplier(id="mossback", title="Mossback Yard"),))
    words = wording.notice(job, Notice(remark=Remark.JOINS_AN_ORDER, about=("mossback", *entries)))
    assert words.startswith(f"Mossback Yard: counted as one order with what was bought there today {said},")


def test_no_sentence_of_ours_shouts_colour_or_brand() -> None:
    sentences = [*wording.WHY.values(), *wording.NOTICES.values()]
    assert not [s for s in sentences if re.search(r"\b(red|green|amber|color|optimize)\b", s, re.IGNORECASE)]


@pytest.mark.parametrize("variant", ROUTED)
def test_sentences_about_routes_are_whole(variant: str) -> None:
    plan = routed(variant)
    numbered = steps.numbers(plan)
    for choice in plan.choices:
        assert whole(wording.why(plan.job, choice))
        assert all(whole(route_words.worth(plan.job, choice, known)) for known in choice.checks)
        if choice.route is not None:
            tree = steps.numbered(choice.route.first, numbered.trees[choice.fault.id])
            said = list(route_words.route_lines(plan.job, choice, tree))
            assert all(whole(line) for _, line, *_ in said)
            assert said[0][0] == 0
            for number in numbered.trees[choice.fault.id]:
                assert sum(line.startswith(f"{number}. ") for _, line, *_ in said) == 1


def test_nobodys_text_in_a_route_is_raw() -> None:
    pump = ROUTED["three_results"].faults[0]
    evil = but(
        ROUTED["three_results"],
        parts=(Part(id="disc", title=RAW),),
        suppliers=(but(ROUTED["three_results"].suppliers[0], title=RAW),),
        faults=(but(pump, title=RAW, checks=(but(pump.checks[0], title=RAW),),
                    repairs=tuple(but(repair, title=RAW) for repair in pump.repairs)),),
    )  # fmt: skip
    plan = service.plan(evil)
    (choice,) = plan.choices
    tree = steps.numbered(choice.route.first, steps.numbers(plan).trees["pump"])
    lines = [line for _, line, *_ in route_words.route_lines(evil, choice, tree)]
    assert len(lines) == 10
    assert all(safe(line) for line in lines)
    assert safe(route_words.worth(evil, choice, choice.checks[0]))
    assert safe(wording.check(evil, "pump", "listen"))


@pytest.mark.parametrize(
    ("variant", "check", "name", "said"),
    [
        ("check", "feed", "spins", "Spins"),
        ("check", "feed", "not-spins", "If not"),  # the complement of the only result that is written
        ("three_results", "listen", "nothing", "Nothing"),
        ("three_results", "listen", "not-much_lost", "Not much lost"),
    ],
)
def test_results_in_words(variant: str, check: str, name: str, said: str) -> None:
    job = ROUTED[variant]
    assert route_words.result(job, job.faults[0].id, check, name) == said


def test_a_check_that_gains_or_saves_is_said_to() -> None:
    plan = routed("check")
    choice = plan.choice("blower")

    def said(fixes: float, saved_minor: float, *, same_next: bool = False) -> str:
        moved = {"fixes": fixes, "saved_minor": saved_minor, "left_out": True, "same_next": same_next}
        return route_words.worth(plan.job, choice, choice.checks[0].model_copy(update=moved))

    assert (
        "adds 0.2 points of chance and saves 1.50 GBP on the average, your time counted: not worth the time."
        in said(0.002, 150.0)
    )
    assert "leaves the chance as it is and saves 0.02 GBP" in said(0.0, 2.0)
    assert "made first costs 1.0 points of chance and 3.00 GBP more" in said(-0.01, -300.0)
    assert "whatever it shows, you would still" in said(0.0, 0.0, same_next=True)
    assert "whatever it shows" not in said(0.001, 0.0)


def test_a_rival_at_the_same_price_is_not_said_to_cost_nothing_more() -> None:
    job = but(BASE, faults=(HORN,), quotes=(NEW, but(NEW, id="quotes.csv:9", supplier="birch", good_chance=0.98)))
    plan = service.plan(but(job, suppliers=()))
    said = wording.why(plan.job, plan.choice("horn"))
    assert said == "No option is surer, and new from birch would cost as much bought alone."


@pytest.mark.parametrize(
    ("pack", "packs", "cell", "said"),
    [(1, 3, "3", "3 x disc"), (2, 3, "3 packs of 2", "3 packs of 2, disc"), (4, 1, "1 pack of 4", "1 pack of 4, disc")],
)
def test_packs_are_not_taken_for_pieces(pack: int, packs: int, cell: str, said: str) -> None:
    line = OrderLine(quote=but(NEW, pack=pack), packs=packs, fitted=1)
    assert wording.packs(line) == cell
    assert wording.order_line(BASE, "alder", line).startswith(f"{said}, new, from alder")
