"""What is next, case by case: covers, last days, parcels on their way, workshops, rough prices, what to type."""

from __future__ import annotations

import json
import shlex
from datetime import timedelta
from pathlib import Path

import pytest

from optimiser import cli, service
from optimiser.model.job import Fault, Job, Part, Pot, Repair, Settings, Time
from optimiser.model.outstanding import OnOrder
from optimiser.model.quotes import STILL_TO_BE_ASKED, Supplier
from optimiser.model.tonight import Doing, Tonight, TooLate
from optimiser.show import outcome_words, tonight, tonight_words, wording
from tests import tiny_job
from tests.tiny_job import BASE, HORN, LAMP, NEW, ROUTED, TODAY, VARIANTS, but
from tests.unit.conftest import Run
from tests.unit.test_routes_shown import SCREENED


def known(job: Job, limit: int | None = None) -> Tonight:
    return service.tonight(service.plan(job), limit)


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_looks_behind_one_cover_stand_together_and_open_it_once() -> None:
    whole = known(SCREENED)
    assert [(task.faults[0], task.minutes, task.opens) for task in whole.tasks if task.doing == Doing.LOOK] == [
        ("fault-1", 46, ("dash",)), ("fault-2", 2, ()), ("fault-3", 3, ()),
    ]  # fmt: skip
    short = known(SCREENED, 48)
    assert [(task.faults[0], task.minutes) for task in short.tasks if task.minutes] == [("fault-1", 46), ("fault-2", 2)]
    assert [(task.faults[0], task.minutes, task.opens) for task in short.left] == [("fault-3", 48, ("dash",))]


def test_what_is_too_long_for_the_evening_gives_way_to_what_is_not() -> None:
    first = but(LAMP, id="first", severity="major", repairs=(Repair(id="wipe", chance=0.5, minutes=50),))
    found = known(but(BASE, faults=(first, LAMP)), 30)
    assert [task.faults for task in found.tasks] == [("lamp",)]
    assert [(task.faults, task.minutes) for task in found.left] == [(("first",), 50)]
    assert known(but(BASE, faults=(first, LAMP)), 0).tasks == ()


def test_work_whose_minutes_nobody_said_says_so_and_does_not_fit_into_no_evening() -> None:
    bend = but(LAMP, id="bend", severity="major", repairs=(Repair(id="bend", chance=0.9),))
    shop = but(bend, id="shop", repairs=(Repair(id="weld", chance=0.9, by="workshop", price_minor=100),))
    job = but(BASE, faults=(bend, shop, LAMP), access=())
    whole = known(job)
    assert [(task.faults[0], task.minutes, task.minutes_unsaid) for task in whole.tasks if task.doing.by_hand] == [
        ("bend", 0, True), ("lamp", 10, False),
    ]  # fmt: skip
    assert tonight_words.evening(whole) == "Tiny: what is next (10 min, and 1 step whose minutes are not said)"
    assert tonight_words.next_step(whole.plan) == "Next: 1. bend: bend (minutes not said)."
    assert "Minutes not said." in list(tonight_words.beside(whole.plan, whole.tasks[0]))
    assert outcome_words.time(whole.plan) == "Your time: 10 min. Not in it: 1 repair whose minutes are not said."
    told = tonight.document(whole)["tasks"]
    assert [task["minutes_not_said"] for task in told] == [task.minutes_unsaid for task in whole.tasks]
    none = known(job, 0)
    assert [task.faults for task in none.tasks if task.doing.by_hand] == []
    assert tonight_words.left_over(none.plan, none.left[0]) == "step 1 (minutes not said)"
    assert [task.faults for task in known(job, 10).tasks if task.doing.by_hand] == [("bend",), ("lamp",)]


def test_the_hours_of_a_job_are_those_from_here_on() -> None:
    plan = service.plan(but(BASE, time=Time(hours=20.0)))
    assert outcome_words.time(plan) == f"Your time: {wording.hours(plan.minutes)} of 20 h still to give."


def test_parts_on_the_shelf_are_fitted_and_parts_on_their_way_are_not() -> None:
    here = known(VARIANTS["owned"])
    assert [task.doing for task in here.tasks] == [Doing.TRY, Doing.FIT]
    shelf = but(VARIANTS["owned"].owned[0], lead_days=2)
    coming = OnOrder(bought=1, part="disc", supplier="alder", units=1, days=2)
    waits = but(VARIANTS["owned"], owned=(shelf,), quotes=(), faults=(HORN,), on_order=(coming,))
    assert known(waits).tasks == ()
    assert [(task.faults, task.days) for task in known(waits).coming] == [(("horn",), 2)]
    fit = "swap, new from your shelf (20 min)."
    assert tonight_words.next_step(service.plan(waits)) == f"Next, once it is here (2 days): 1. horn: {fit}"
    assert tonight_words.on_the_way(service.plan(waits)) == ["On its way: 1 x disc (entry 1), 2 days."]
    grave = but(waits, faults=(but(HORN, severity="dangerous", systems=("wiring",)),))
    said = tonight_words.next_step(service.plan(grave))
    assert said == f"Next, once it is here (2 days): 1. horn (DANGEROUS): {fit}"
    beside = tonight_words.next_step(service.plan(but(grave, faults=(*grave.faults, LAMP))))
    assert beside == "Next: 2. lamp: clean (10 min). DANGEROUS and waiting for its parts: horn (2 days)."


@pytest.mark.parametrize(("days", "soon"), [(0, True), (7, True), (8, False)])
def test_the_last_day_of_a_quote_is_said_in_time(days: int, soon: bool) -> None:
    dated = but(NEW, valid_until=TODAY + timedelta(days=days))
    found = known(but(BASE, quotes=(dated,)))
    (order,) = [task for task in found.tasks if task.doing == Doing.ORDER]
    assert order.last_day is not None
    assert (order.last_day.day, order.last_day.why) == (dated.valid_until, TooLate.QUOTE)
    assert found.urgent == ((order,) if soon else ())


def test_what_must_be_ordered_to_be_in_time_is_said() -> None:
    """Needed in nine days, six days until it is here: three are left."""
    due = but(BASE.settings, needed_by=TODAY + timedelta(days=9))
    found = known(but(BASE, settings=due, quotes=(but(NEW, lead_days=6),)))
    (order,) = found.urgent
    assert order.last_day is not None
    assert (order.last_day.day, order.last_day.why) == (TODAY + timedelta(days=3), TooLate.NEEDED_BY)
    assert tonight_words.cannot_wait(found.plan, order) == (
        "Order from alder (9.00 GBP), for horn: by 27 November (3 days), else it is not done in time."
    )


def test_a_workshop_is_booked_and_its_parts_are_ordered_before() -> None:
    shop = but(HORN, repairs=(Repair(id="shop", title="Shop fits it", chance=0.9, by="workshop", price_minor=300,
                                     parts={"disc": 1}, lead_days=4),))  # fmt: skip
    found = known(but(BASE, faults=(shop,), quotes=(but(NEW, lead_days=2),)))
    assert [(task.doing, task.pay_minor, task.days) for task in found.tasks] == [
        (Doing.ORDER, 900, 2), (Doing.BOOK, 300, 6),
    ]  # fmt: skip
    booked = found.tasks[1]
    assert list(tonight_words.beside(found.plan, booked)) == ["3.00 GBP in 6 days, its parts ordered above."]


def test_an_order_to_be_fetched_takes_its_trip_out_of_the_evening() -> None:
    job = but(BASE, faults=(HORN,), quotes=(NEW,), suppliers=(Supplier(id="alder", trip_minutes=30),))
    assert [task.minutes for task in known(job, 30).tasks] == [30]
    found = known(job, 29)
    assert [task.supplier for task in found.left] == ["alder"]
    assert tonight_words.left_over(found.plan, found.left[0]) == "the order from alder (30 min)"


def test_what_nobody_has_quoted_is_asked_for_and_not_ordered() -> None:
    rough = but(NEW, id="rough", supplier=STILL_TO_BE_ASKED).model_copy(update={"rough": True})
    part = Part(id="disc", title="Front disc", rough_price={"new": (800, 1000)})
    job = but(BASE, faults=(HORN,), suppliers=(), parts=(part,)).model_copy(update={"quotes": (rough,)})
    found = known(job)
    (asked,) = found.tasks
    assert asked.doing == Doing.ASK
    assert tonight_words.typed(found.plan, asked) == []
    said = tonight_words.next_step(found.plan)
    assert said == "Next: ask what shops want for Front disc (some 9.00 GBP), for horn."


EXAMPLES = ("shortest", "look-first", "try-it", "eight-evenings", "look-for-nothing")


@pytest.mark.parametrize("name", EXAMPLES)
def test_what_is_to_be_typed_works_as_it_is_printed(
    name: str, beside_examples: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """From outside the folder and from within; supposed, so that each is typed into the same job."""
    folder = Path("examples", name)
    monkeypatch.chdir(beside_examples)
    for words in ((str(folder),), ()):
        if not words:
            monkeypatch.chdir(folder)
        assert cli.main(["tonight", *words, "--minutes", "600", "--json"]) == 0
        answer = json.loads(capsys.readouterr().out)
        tasks = [task for task in (*answer["tasks"], *answer["left"]) if task["type"]]
        assert tasks
        for command in (command for task in tasks for command in task["type"]):
            program, *typed = shlex.split(command)
            waits = "fitted" in typed and any(
                task["repair"] and task["quotes"] and task["doing"] == "book"
                for task in tasks
                if command in task["type"]
            )
            assert program == "optimiser"
            assert waits or cli.main([*typed, "--suppose", "--json"]) == 0, command
            capsys.readouterr()


def test_the_answer_on_a_terminal(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "200")  # so that no line breaks in a folder's long name
    job = but(BASE, settings=Settings(title="Tiny", currency="GBP", today=TODAY, needed_by=TODAY + timedelta(days=5)))
    folder = tiny_job.write(but(job, faults=(but(HORN, systems=("brakes",)), LAMP)), tmp_path / "a job")
    code, out, err = run("tonight", folder, "--minutes", "30")
    assert (code, err) == (0, "")
    said = one_line(out)
    for words in (
        "Tiny: what is next (10 min of 30 min)",
        "Cannot wait - Order from alder (9.00 GBP), for horn: by 29 November (5 days), else it is not done in time.",
        "Look, and do what takes no part 2 lamp: clean. Costs 2.50 GBP. 10 min",
        f"> optimiser fitted '{folder}' 2 cured (or not-cured)",
        "Orders to send alder: 9.00 GBP, for horn.",
        f"> optimiser bought '{folder}' 3",
        "All of it is needed by 29 November (5 days).",
    ):
        assert words in said, words
    assert run("tonight", folder, "--minutes", "soon")[0] == 2
    assert run("tonight", folder, "lamp")[0] == 2


def grave(name: str, **changed: object) -> Fault:
    return but(LAMP, id=name, title=name, severity="dangerous", **changed)


def test_each_heading_stands_once_whatever_comes_between() -> None:
    """A look that may add to a dangerous order stands with it; long shots stand last."""
    looked = but(ROUTED["shared"].faults[0], id="blower")
    asked = but(HORN, severity="dangerous", systems=("wiring",))
    shot = grave("brake", repairs=(Repair(id="clean", chance=0.02, price_minor=900),))
    job = but(ROUTED["shared"], faults=(asked, looked, shot, LAMP), pot=Pot(cap_minor=20000))
    found = list(tonight.headed(known(job).tasks))
    headings = [heading for heading, _ in found]
    assert len(headings) == len(set(headings)), headings
    assert headings[0] == tonight.WITH_WHAT_ADDS
    assert [task.faults[0] for task in dict(found)[tonight_words.LONG_SHOTS]] == ["brake"]


def test_a_price_is_asked_for_before_what_only_may_add_to_an_order() -> None:
    """Asking waits for nothing; what is sent for waits for what may add to it."""
    looked = but(ROUTED["shared"].faults[0], id="blower")
    tasks = {}
    for rough in (False, True):
        whose = {"supplier": STILL_TO_BE_ASKED, "rough": True} if rough else {}
        quotes = tuple(but(quote, **whose) for quote in ROUTED["shared"].quotes)
        asked = but(HORN, severity="dangerous", systems=("wiring",))
        parts = (*ROUTED["shared"].parts, Part(id="disc", rough_price={"new": (800, 1000)}))
        pot = Pot(cap_minor=9000, hour_worth_minor=0)
        job = but(ROUTED["shared"], faults=(asked, looked), quotes=quotes, parts=parts, pot=pot)
        tasks[rough] = [(task.doing, task.faults[0]) for task in known(job).tasks]
    assert [name for _, name in tasks[False]] == ["blower", "horn"]
    assert tasks[True][0] == (Doing.ASK, "horn")


def test_what_is_dangerous_and_too_long_for_the_evening_is_named() -> None:
    found = known(but(BASE, faults=(grave("brake", repairs=(Repair(id="clean", chance=0.9, minutes=90),)),)), 60)
    assert tonight_words.another_evening(found) == ["For another evening: step 1, brake (DANGEROUS) (1 h 30 min)."]


def test_an_empty_evening_says_so(run: Run, tmp_path: Path) -> None:
    folder = tiny_job.write(but(BASE, pot=Pot(cap_minor=0)), tmp_path / "job")
    assert "Nothing is left to do for this money." in run("tonight", folder)[1]
    assert json.loads(run("tonight", folder, "--json")[1])["tasks"] == []


def test_gas_is_minded_until_the_fitter_comes() -> None:
    """Of other work that is booked the cautions are the workshop's own."""
    leak = but(LAMP, severity="dangerous", repairs=(Repair(id="fitter", chance=0.9, price_minor=500, by="workshop"),))
    minded = {system: known(but(BASE, faults=(but(leak, systems=(system,)),))).cautions for system in ("gas", "brakes")}
    assert "Bottled gas" in minded["gas"]
    assert minded["brakes"] == {}


def test_what_is_driven_for_comes_last_and_on_a_test_alone_while_something_dangerous_is_open() -> None:
    faults = tuple(
        but(fault, severity="major", checks=tuple(but(check, mind=("driven",)) for check in fault.checks))
        for fault in SCREENED.faults
    )
    safe, held = but(SCREENED, faults=faults), but(SCREENED, faults=(*faults, but(LAMP, severity="dangerous")))
    looks = [Doing.LOOK] * 3
    assert [task.doing for task in known(safe).tasks] == [*looks, Doing.TRY][: len(known(safe).tasks)]
    assert [task.doing for task in known(held).tasks][-3:] == looks
    assert known(held).tasks[0].faults == ("lamp",)
    assert [heading for heading, _ in tonight.headed(known(held).tasks)][-1] == tonight_words.HELD
    check = wording.check(held, "fault-1", held.faults[0].checks[0].id)
    assert check.endswith("(on a licensed test alone while anything dangerous is open)")
    assert not wording.check(safe, "fault-1", safe.faults[0].checks[0].id).endswith(")")
    assert any(title.startswith("Check on the road (") for title in service.plan(held).cautions)


def test_an_order_at_rough_prices_is_none_to_pay() -> None:
    rough = but(NEW, supplier=STILL_TO_BE_ASKED, rough=True)
    parts = (Part(id="disc", rough_price={"new": (800, 1000)}),)
    (order,) = service.plan(but(BASE, faults=(HORN,), parts=parts, quotes=(rough,), suppliers=())).orders
    assert wording.order_sums(BASE, order) == ("Some 9.00 GBP at rough prices, without postage: ask before you order.")
