"""What brought a move about: one story for each thing that can differ; alone, together, not found."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import timedelta

import pytest

from optimiser import service
from optimiser.changes import Deadline, moves
from optimiser.changes.causes import MOST_SINGLE_QUOTES, differences
from optimiser.errors import InputError
from optimiser.model import events as h
from optimiser.model.job import Access, Job, Owned, Part, Repair
from optimiser.model.moves import Cause, Explained, Moves, QuotePair, Turn, What
from optimiser.model.plan import Selection
from optimiser.model.quotes import STILL_TO_BE_ASKED, Supplier
from optimiser.show import cause_words, change_words
from tests.tiny_job import BASE, BLOWER, CHECKED, HORN, LAMP, NEW, TODAY, USED, but
from tests.unit.changes.stories import MONEY, SAID, causes, fitted, kept, moment, moved, note, of, pot, spend, strike

DEARER = but(BASE, quotes=(but(NEW, price_minor=1900), USED))
DUE = but(BASE, settings=but(BASE.settings, needed_by=TODAY + timedelta(days=5)), quotes=(but(NEW, lead_days=4), USED))
LASTS = but(BASE, quotes=(but(NEW, valid_until=TODAY), USED))
SHOP_GONE = but(LAMP, repairs=(but(LAMP.repairs[0], price_minor=1900),))


def on(job: Job, days: int) -> Job:
    return but(job, settings=but(job.settings, today=TODAY + timedelta(days=days)))


STORIES: Mapping[str, tuple[str, What, str, Callable[[], Moves]]] = {
    "it happened": ("horn", What.HAPPENED, "entry 1 (10.00 GBP spent: hire)", lambda: moved(BASE, spend(1000))),
    "it was struck out": (
        "horn", What.STRUCK, "entry 1, struck out (10.00 GBP spent: hire)",
        lambda: moved(BASE, spend(1000), strike(1), after=1),
    ),
    "another price": (
        "horn", What.QUOTES, "another price, 19.00 GBP instead of 9.00 (disc, new, from alder)",
        lambda: moved(BASE, now=DEARER),
    ),
    "a quote is gone": (
        "horn", What.QUOTES, "a quote that is gone (disc, new, from alder)",
        lambda: moved(BASE, now=but(BASE, quotes=(USED,))),
    ),
    "a quote is new": (
        "horn", What.QUOTES, "a new quote (disc, new, from alder)", lambda: moved(but(BASE, quotes=(USED,)), now=BASE),
    ),
    "a quote says something else": (
        "horn", What.QUOTES, "a quote that says something else than before (disc, new, from alder)",
        lambda: moved(BASE, now=but(BASE, quotes=(but(NEW, good_chance=0.5), USED))),
    ),
    "a quote ran out": (
        "horn", What.LAPSED, "the quote that ran out on 2026-11-24 (disc, new, from alder)",
        lambda: moved(LASTS, now=on(LASTS, 1)),
    ),
    "the days went by": (
        "horn", What.DAY, "the day (2026-11-24 then, 2026-11-26 now)", lambda: moved(DUE, now=on(DUE, 2)),
    ),
    "the cap is another": (
        "horn", What.WRITTEN, "the cap, 10.00 instead of 20.00 in job.toml", lambda: moved(BASE, now=pot(1000)),
    ),
    "a repair is dearer": (
        "lamp", What.WRITTEN, "fault lamp, repairs, changed in job.toml",
        lambda: moved(BASE, now=but(BASE, faults=(HORN, SHOP_GONE))),
    ),
    "a fault is another": (
        "lamp", What.WRITTEN, "fault lamp, importance, 3.0 instead of 1.0 in job.toml",
        lambda: moved(pot(450), now=pot(450, but(BASE, faults=(HORN, but(LAMP, importance=3.0))))),
    ),
    "a fault is new": (
        "later", What.WRITTEN, "fault later, new in job.toml",
        lambda: moved(BASE, now=but(BASE, faults=(HORN, LAMP, but(HORN, id="later")))),
    ),
    "a fault is gone": (
        "lamp", What.WRITTEN, "fault lamp, gone from job.toml", lambda: moved(BASE, now=but(BASE, faults=(HORN,))),
    ),
    "postage is another": (
        "horn", What.WRITTEN, "supplier alder, postage, 15.00 instead of 0.00 in suppliers.csv",
        lambda: moved(BASE, now=but(BASE, suppliers=(Supplier(id="alder", postage_minor=1500), Supplier(id="birch")))),
    ),
    "the shelf holds something": (
        "horn", What.WRITTEN, "owned, changed in job.toml",
        lambda: moved(BASE, now=but(BASE, owned=(Owned(part="disc", condition="new", good_chance=1.0),))),
    ),
    "fallbacks are switched on": (
        "horn", What.WRITTEN, "job fallbacks, True instead of False in job.toml",
        lambda: moved(BASE, now=but(BASE, settings=but(BASE.settings, fallbacks=True))),
    ),
}  # fmt: skip


@pytest.mark.parametrize("story", STORIES)
def test_every_cause_has_its_story(story: str) -> None:
    fault, what, said, told = STORIES[story]
    answer = told()
    assert of(answer, fault).found == Explained.ALONE
    (cause,) = causes(answer, fault)
    assert cause.what == what
    assert cause.checked
    assert cause_words.cause(answer.plan.job, cause) == said


def test_every_kind_of_cause_is_told() -> None:
    assert {what for _, what, _, _ in STORIES.values()} == set(What)


# ---- one, each of several, together


def test_what_moved_nothing_is_no_cause() -> None:
    told = moved(BASE, note(), spend(1000), spend(1))
    assert [cause.number for cause in causes(told, "horn")] == [2]
    assert all(cause.checked for cause in told.causes)
    assert change_words.idle(told) == "Moved nothing by itself: entries 1, 3."


def test_each_of_two_was_needed() -> None:
    told = moved(BASE, spend(500), spend(500, "tow"))
    assert (of(told, "horn").found, [cause.number for cause in causes(told, "horn")]) == (Explained.EACH, [1, 2])
    assert "It took entry 1 (5.00 GBP spent: hire) and entry 2 (5.00 GBP spent: tow)." in "".join(
        change_words.long(told)
    )


def test_together_where_none_explains_it_alone() -> None:
    """The new part with the lamp takes 11.50 of 15.00: one 2.00 gone leaves enough, any two of the three do not."""
    told = moved(pot(1500), spend(200), spend(200), spend(200))
    horn = of(told, "horn")
    assert (horn.turn, horn.found, horn.causes) == (Turn.NEW_CHOICE, Explained.TOGETHER, ())
    assert "No one of the 3 things that changed explains it: they did it together." in "".join(change_words.long(told))


def test_why_no_cause_is_told_is_said_in_full_once() -> None:
    told = moved(pot(1500), spend(200), spend(200), spend(200))
    horn = of(told, "horn")
    twice = told.model_copy(update={"moves": (horn, horn), "causes": told.causes})
    said = "".join(change_words.long(twice))
    assert said.count("they did it together") == 1
    assert said.count("This too they did together.") == 1


def test_either_was_enough_where_none_was_needed() -> None:
    """15.00 less 4.00 leave 11.00 already."""
    told = moved(pot(1500), spend(400), spend(400, "tow"), note())
    horn = of(told, "horn")
    assert (horn.turn, horn.found, horn.causes) == (Turn.NEW_CHOICE, Explained.ENOUGH, (0, 1))
    assert [cause.moved for cause in told.causes] == [(), (), ()]
    assert [cause.enough_for for cause in told.causes] == [("horn",), ("horn",), ()]
    said = "".join(change_words.long(told))
    assert "Entry 1 (4.00 GBP spent: hire) or entry 2 (4.00 GBP spent: tow) alone was enough." in said
    assert "Moved nothing by itself: entry 3." in said


def test_a_finding_is_enough_though_the_part_was_bought_since() -> None:
    spins = h.CheckMade(**MONEY, fault="blower", check="feed", result="spins")
    was = but(CHECKED, faults=(but(BLOWER, repairs=(but(BLOWER.repairs[0], parts={"disc": 1}), BLOWER.repairs[1])),))
    was = but(was, quotes=(but(NEW, price_minor=10),), suppliers=(Supplier(id="alder"),))
    told = moved(was, spins, h.Purchase.of(was.quotes[0], 1, currency="GBP", postage_minor=0, **SAID))
    assert of(told, "blower").turn == Turn.AS_FORESEEN
    assert 0 in of(told, "blower").causes


def test_the_time_ran_out_and_that_is_said() -> None:
    told = moved(BASE, spend(500), spend(500), note(), seconds=0)
    assert of(told, "horn").found == Explained.OPEN
    assert [cause.checked for cause in told.causes] == [False, False, True], "a note changes nothing: no time is needed"
    said = list(change_words.long(told))
    assert any("What brought it about was not found in the time allowed." in line for line in said)
    assert "Not tried as causes in the time allowed: entries 1, 2. To allow more: optimiser moved --seconds 180" in said


def test_a_single_cause_takes_no_time_to_find() -> None:
    assert of(moved(BASE, spend(1000), seconds=0), "horn").found == Explained.ALONE
    gone = moved(BASE, now=but(BASE, quotes=(USED,)), seconds=0)
    assert of(gone, "horn").found == Explained.ALONE, "put back in another place of the sheet it is the same job"


@pytest.mark.parametrize(
    ("now", "happenings", "fault", "what"),
    [
        (DEARER, (spend(1), spend(1)), "horn", What.QUOTES),
        (BASE, (spend(1), spend(1), fitted("lamp", "clean", cured=True)), "lamp", What.HAPPENED),
        (pot(1000), (note(),), "horn", What.WRITTEN),
    ],
    ids=["the part that it needs", "an entry on it", "the money"],
)
def test_the_likeliest_cause_comes_first_where_time_is_short(
    now: Job, happenings: tuple[h.Happening, ...], fault: str, what: What
) -> None:
    """A clock that has time for one more plan: it goes to what touches the moved fault."""
    rest = but(now, settings=but(now.settings, check_must_gain=0.1))
    here = moment(rest, *happenings)
    then = kept(BASE, here)
    ticks = iter([0.0, 0.0, 0.0, 2.0, *[2.0] * 99])
    asked = []

    def replan(job: Job, last: Selection | None) -> Selection:
        asked.append(job)
        return service.plan(job, last).selection

    clock = Deadline(1.0, longest=0.5, now=lambda: next(ticks))
    told = moves(then, here, service.plan(here.planned, then.nearest(here)), replan, clock=clock)
    assert len(asked) == 1
    (found,) = causes(told, fault)
    assert (found.what, getattr(found.happening, "kind", "")) == (what, "fitting" if fault == "lamp" else "")


# ---- what differs, and how to take it away


def test_taking_away_gives_the_moment_without_it() -> None:
    now = but(
        DEARER, pot=pot(1000).pot, access=(Access(id="dash", minutes=5),), faults=(HORN, LAMP, but(HORN, id="later")),
        suppliers=(Supplier(id="alder", postage_minor=1), Supplier(id="birch")),
        owned=(Owned(part="disc", condition="new", good_chance=1),),
        settings=but(BASE.settings, today=TODAY + timedelta(days=2), good_enough=0.5),
    )  # fmt: skip
    was, here = moment(BASE), moment(now, spend(1))
    found = differences(was, here)
    assert len(found) == 9
    for place in range(len(found)):
        without = found[place].without(here)
        left = [difference.cause for difference in differences(was, without)]
        assert left == [difference.cause for n, difference in enumerate(found) if n != place]
        here_again = without
        for other in (difference for n, difference in enumerate(found) if n != place):
            here_again = other.without(here_again)
        assert differences(was, here_again) == []
        assert set(here_again.folder.quotes) == set(BASE.quotes)


def test_a_fault_that_is_put_in_is_one_cause_with_all_that_came_for_it() -> None:
    """Its part, the rough price of that, a cover and the shop that nobody has asked yet; what another has stays."""
    mats = Repair(id="fit", chance=0.9, parts={"mat": 1, "disc": 1}, access=("dash",))
    later = but(HORN, id="later", repairs=(mats,))
    rough = but(NEW, id="rough", part="mat", supplier=STILL_TO_BE_ASKED, rough=True)
    now = but(
        BASE, faults=(HORN, LAMP, later), parts=(Part(id="mat", title="Mat"),), access=(Access(id="dash", minutes=5),),
        quotes=(*BASE.quotes, rough), suppliers=(*BASE.suppliers, Supplier(id=STILL_TO_BE_ASKED)),
    )  # fmt: skip
    was, here = moment(BASE), moment(now)
    (found,) = differences(was, here)
    assert cause_words.cause(now, found.cause) == "fault later, new in job.toml"
    assert found.without(here).folder == BASE
    bought = but(now, owned=(Owned(part="mat", condition="new", good_chance=1.0),))
    left = differences(was, moment(bought))
    assert next(cause_words.cause(bought, one.cause) for one in left) == "a new rough price (Mat, new)"


def test_nothing_differs_where_rows_changed_places() -> None:
    turned = but(BASE, quotes=(but(USED, id="quotes.csv:2"), but(NEW, id="quotes.csv:3")), faults=(LAMP, HORN))
    assert differences(moment(BASE), moment(turned)) == []


def test_many_quotes_of_one_supplier_are_one_cause() -> None:
    many = tuple(but(NEW, id=f"q:{n}", ref=str(n), price_minor=900 + n) for n in range(MOST_SINGLE_QUOTES + 1))
    dearer = but(BASE, quotes=tuple(but(quote, price_minor=quote.price_minor * 2) for quote in many))
    (told,) = differences(moment(but(BASE, quotes=many)), moment(dearer))
    assert len(told.cause.quotes) == MOST_SINGLE_QUOTES + 1
    assert cause_words.cause(BASE, told.cause) == "13 quotes that changed at alder"
    assert told.without(moment(dearer)).folder.quotes == many
    rough = tuple(but(quote, supplier=STILL_TO_BE_ASKED, rough=True) for quote in many)
    (gone,) = differences(moment(but(BASE, quotes=rough)), moment(but(BASE, quotes=())))
    assert cause_words.cause(BASE, gone.cause) == "13 rough prices that are gone"
    one = Cause(what=What.QUOTES, quotes=(QuotePair(was=rough[0]),))
    assert cause_words.cause(BASE, one) == "a rough price that is gone (disc, new)"
    few = but(BASE, quotes=(*dearer.quotes[:-1], many[-1]))
    assert len(differences(moment(but(BASE, quotes=many)), moment(few))) == MOST_SINGLE_QUOTES


def test_a_quote_that_comes_back_takes_nobody_s_name() -> None:
    (gone,) = differences(moment(BASE), moment(but(BASE, quotes=(but(USED, id=NEW.id),))))
    back = gone.without(moment(but(BASE, quotes=(but(USED, id=NEW.id),)))).folder.quotes
    assert len({quote.id for quote in back}) == 2
    assert {quote.content for quote in back} == {quote.content for quote in BASE.quotes}


def test_a_quote_that_ran_out_is_apart_from_the_day() -> None:
    both = but(DUE, quotes=(but(NEW, lead_days=4, valid_until=TODAY + timedelta(days=1)), USED))
    lapsed, day = differences(moment(both), moment(on(both, 2)))
    assert (lapsed.cause.what, day.cause.what) == (What.LAPSED, What.DAY)
    here = moment(on(both, 2))
    assert lapsed.without(here).folder.quotes[0].valid_until == TODAY + timedelta(days=2)
    assert day.without(here).folder.settings.today == TODAY
    assert day.without(here).folder.quotes[0].valid_until == TODAY - timedelta(days=1), "it stays run out"
    without_both = lapsed.without(day.without(here))
    assert without_both.folder.quotes[0].valid_until >= TODAY


def test_a_quote_that_had_run_out_before_is_no_cause() -> None:
    old = but(BASE, quotes=(but(NEW, valid_until=TODAY - timedelta(days=1)), USED))
    assert [d.cause.what for d in differences(moment(old), moment(on(old, 1)))] == [What.DAY]


def test_twins_odds_are_one_cause() -> None:
    pair = but(CHECKED, faults=(but(BLOWER, twin="pair"), but(BLOWER, id="other", twin="pair")))
    now = but(pair, faults=tuple(but(fault, causes={"wire": 3.0, "motor": 1.0}) for fault in pair.faults))
    (told,) = differences(moment(pair), moment(now))
    assert told.without(moment(now)).folder == pair
    single = but(CHECKED, faults=(BLOWER, but(BLOWER, id="other")))
    apart = but(single, faults=tuple(but(fault, causes={"wire": 3.0, "motor": 1.0}) for fault in single.faults))
    assert len(differences(moment(single), moment(apart))) == 2


def test_what_cannot_be_planned_by_itself_stays_untried() -> None:
    """Without a purchase the fitting of its pieces leans on nothing; the rest is told all the same."""
    here = moment(BASE, spend(1000), spend(1))
    then = kept(BASE, here)

    def replan(_: Job, __: Selection | None) -> Selection:
        raise InputError([])

    told = moves(then, here, service.plan(here.planned, then.nearest(here)), replan)
    assert of(told, "horn").found == Explained.OPEN
    assert not any(cause.checked for cause in told.causes)


@pytest.mark.parametrize(
    ("cause", "said"),
    [
        (h.SeenToBe(**SAID, fault="blower", cause="wire"), "Blower dead: it is wire"),
        (h.SeenNotToBe(**SAID, fault="blower", cause="wire"), "Blower dead: it is not wire"),
        (h.AfterCure(**SAID, fault="blower", works=True), "Blower dead: works too after a twin was cured"),
        (h.AfterCure(**SAID, fault="blower", works=False), "Blower dead: still as it was after a twin was cured"),
        (h.CheckMade(**MONEY, fault="blower", check="feed", result="spins"), "Blower dead: Feed it 12 V: spins"),
        (h.Fitting(**MONEY, fault="blower", repair="motor", cured=True), "Blower dead: Renew the motor, cured"),
        (h.Fitting(**MONEY, fault="horn", repair="gone", cured=False), "horn: gone, not cured"),
        (h.SentBack(**SAID, part="disc", units=2, bought=1), "2 x disc sent back"),
        (h.Refund(**MONEY, amount_minor=250), "2.50 GBP came back"),
        (h.DepositReturned(**MONEY, amount_minor=250), "a deposit of 2.50 GBP came back"),
        (h.NewFault(**SAID, fault="rattle", title="Rattle"), "seen: rattle"),
        (h.NewFault(**SAID, fault="rattle", title="Rattle", back=True), "rattle: came back"),
        (h.CameRight(**SAID, fault="blower"), "Blower dead: came right by itself"),
        (h.LicensedTest(**SAID, fault="blower"), "Blower dead: tested by somebody licensed, and passed"),
        (h.LeftAsItIs(**SAID, fault="blower"), "Blower dead: left as it is"),
        (h.OddsCorrected(**SAID, fault="blower", cause="wire", was=1, now=2.5), "Blower dead: odds of wire 1 -> 2.5"),
        (
            h.WorkPriceCorrected(**MONEY, fault="blower", repair="motor", was_minor=900, now_minor=1250),
            'Blower dead: "Renew the motor" costs 12.50 GBP, not 9.00',
        ),
        (note("a\x1b[31mb"), "note: a\\x1b[31mb"),
        (
            h.Purchase.of(NEW, 1, currency="GBP", postage_minor=450, **SAID),
            "1 x disc bought from alder, 13.50 GBP",
        ),
        (
            h.PriceCorrected(
                **MONEY, quote="", part="disc", supplier="alder", condition="new", was_minor=900, now_minor=1
            ),
            "alder asks 0.01 GBP for disc, not 9.00",
        ),
    ],
    ids=lambda value: getattr(value, "kind", ""),
)  # fmt: skip
def test_every_happening_has_its_words(cause: h.EventHead, said: str) -> None:
    told = cause_words.happening(but(CHECKED, faults=(BLOWER, HORN)), cause)
    assert told == said


@pytest.mark.parametrize(
    ("numbers", "said"),
    [([4], "entry 4"), ([2, 1], "entries 1, 2"), ([1, 3, 4, 5, 9], "entries 1, 3 to 5, 9")],
)
def test_runs_of_entries_are_drawn_together(numbers: list[int], said: str) -> None:
    assert cause_words.entries(numbers) == said
