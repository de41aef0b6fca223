"""What somebody needs at the vehicle with one finger: cautions in the step, nothing that can be tapped in vain."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from contextvars import copy_context
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from urllib.parse import unquote

import pytest

from optimiser import calls, money, patterns, service, starting
from optimiser.calls import call
from optimiser.model.plan import Plan
from optimiser.page import places, views
from optimiser.page.live import Live, PageClock
from optimiser.show import order_letters
from tests import planned
from tests.tiny_job import CHECKED, but
from tests.unit.page.conftest import EXAMPLES
from tests.unit.page.serving_a_job import TODAY, Browser, numbers, served
from tests.unit.page.test_taps import buttons, said

NEW_JOB = starting.NewJob("Boat", money.Currency("GBP", 2), 90_000, 45_000)
Planning = tuple[Live, Callable[[], Browser]]


def test_cautions_stand_in_the_step_that_needs_them_before_its_buttons(planning: Planning) -> None:
    live, new = planning
    assert live.shown is not None
    page = new().get("/")
    told = live.shown.report.tonight.cautions
    assert told
    assert page.index('class="doing"') < page.index('class="caution"')
    step = next(one for one in page.split("<li>") if 'class="caution"' in one)
    assert step.index('class="caution"') < step.index("<button")
    for sentences in told.values():
        assert all(sentence in said(page) for sentence in sentences)
    first = re.findall(r'<details class="caution"( open)?>', page)
    assert first.count(" open") == len(told)


def test_the_plan_has_no_box_whose_tick_would_be_lost(planning: Planning) -> None:
    """Those that are there fold and unfold."""
    _, new = planning
    boxes = re.findall(r'<input type="checkbox"[^>]*>', new().get("/plan"))
    assert boxes
    assert all('class="fold"' in box for box in boxes)


def test_a_price_that_is_still_rough_can_be_asked_for_and_bought_with_the_part_filled_in(tmp_path: Path) -> None:
    fault = starting.patterns()["seat-torn"]
    starting.begin(tmp_path / "job", NEW_JOB, [patterns.said(fault.id, {fault.id: fault}).wanted(fault)], TODAY)
    live, new = served(tmp_path / "job")
    browser = new()
    browser.planned()
    page = browser.get("/")
    live.stop()
    assert "quotes.csv" not in said(page)
    for address in ("/sheets/told", "/write/bought"):
        form = re.search(rf'<form method="post" action="{address}".*?</form>', page, re.DOTALL)
        assert form is not None
        assert "seat-cover" in form[0]


def choices(page: str, form: str, name: str) -> list[str]:
    """What a list to choose from offers in the first form of a part of the page that has it."""
    part = page[page.index(f'id="{form}"') :]
    found = re.search(rf'<select name="{name}"[^>]*>(.*?)</select>', part, re.DOTALL)
    assert found is not None
    return [unescape(value) for value in re.findall(r'value="([^"]+)"', found[1])]


@pytest.mark.parametrize(
    ("form", "name", "also"),
    [
        ("found", "words", {}),
        ("seen", "words", {}),
        ("fitted", "words", {"word": "cured"}),
        ("left", "word", {}),
        ("spent", "fault", {"word": ["4", "grease"]}),
        ("noted", "fault", {"word": "green lead is earth"}),
        ("odds", "words", {"word": "3"}),
    ],
)
def test_whatever_is_written_down_is_chosen_from_a_list(
    planning: Planning, form: str, name: str, also: dict[str, str | list[str]]
) -> None:
    live, new = planning
    browser = new()
    verb = {"seen": "found", "back": "found", "odds": "corrected"}.get(form, form)
    offered = choices(browser.get("/write"), form, name)
    assert offered
    for choice in offered:
        sent = [(key, text) for key, texts in also.items() for text in ([texts] if isinstance(texts, str) else texts)]
        fields = browser.fields(browser.get("/write")) | {name: choice}
        for key, _ in sent:
            fields[key] = [*([choice] if key == name else []), *(text for other, text in sent if other == key)]  # type: ignore[assignment]
        answer = browser.send(f"/write/{verb}", fields)
        assert answer.status_code == 303 or "Nothing is written yet" in answer.text, (choice, said(answer.text))
        if answer.status_code == 303 and numbers(live):
            browser.post("/strike", entry=str(numbers(live)[-1]))


def test_parts_and_shops_are_chosen_from_a_list(planning: Planning) -> None:
    live, new = planning
    page = new().get("/write")
    for form in ("bought", "refunded", "returned", "price"):
        assert set(choices(page, form, "word")) >= live.now().job.titles_of_parts.keys()
    assert set(choices(page, "price", "from")) >= {one.id for one in live.now().job.suppliers}


@pytest.mark.long
def test_the_other_result_of_a_look_says_what_was_not_seen(
    tmp_path: Path, marigold_plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(service, "plan", lambda *_: marigold_plan)
    clock = PageClock(lambda: planned.TODAY, lambda: datetime.now(UTC))
    unrecorded = shutil.ignore_patterns("record.sqlite*")
    live, new = served(Path(shutil.copytree(EXAMPLES / "marigold", tmp_path / "job", ignore=unrecorded)), clock=clock)
    browser = new()
    browser.planned()
    labels = [label for _, _, label in buttons(browser.get("/"))]
    live.stop()
    assert "Not “sinks”" in labels
    assert "If not" not in labels


def test_the_results_of_a_check_with_a_long_title_are_told_apart() -> None:
    check = but(CHECKED.faults[0].checks[0], title="Bleed screw open, wheel held fast by hand, " * 4)
    job = but(CHECKED, faults=(but(CHECKED.faults[0], checks=(check,)),))
    ((_, choices),) = views.names(job).results
    offered = [offer for _, offer in choices]
    assert [offer.partition(":")[0] for offer in offered] == ["Spins", "Not “spins”"]
    assert len(set(offered)) == 2


def test_every_fault_may_be_said_to_have_come_right() -> None:
    assert [name for name, _ in views.names(CHECKED).back] == [fault.id for fault in CHECKED.faults]


def test_a_step_of_which_something_was_just_written_waits_for_the_next_plan(
    planning: Planning, monkeypatch: pytest.MonkeyPatch
) -> None:
    live, new = planning
    browser = new()
    before = browser.get("/")
    monkeypatch.setattr(live, "_plan_again", lambda: False)
    path, words, _ = buttons(before)[0]
    browser.send(path, browser.fields(before) | {"word": words})
    page = browser.get("/")
    assert words not in [found for _, found, _ in buttons(page)]
    assert "Written down already: entry 1." in said(page)
    assert len(buttons(page)) < len(buttons(before))
    browser.post("/strike", entry="1")
    assert buttons(browser.get("/")) == buttons(before)


def test_a_part_that_comes_sooner_than_it_was_promised_can_be_fitted(looking: Path) -> None:
    suppliers = looking / "suppliers.csv"
    suppliers.write_text(suppliers.read_text().replace("postage", "lead_days,postage").replace("6.00", "3,6.00"))
    live, new = served(looking)
    browser = new()
    browser.planned()
    path, words, _ = next(one for one in buttons(browser.get("/")) if one[0] == "/write/bought")
    browser.post(path, page="/", word=words)
    browser.planned()
    page = browser.get("/")
    live.stop()
    here = page[page.index("Once they are here: fit them") :]
    assert [label for _, _, label in buttons(here)][:2] == ["Cured", "Not cured"]
    assert "In 3 days." in said(here)


def test_what_is_asked_says_of_what(planning: Planning) -> None:
    live, new = planning
    browser = new()
    page = browser.get("/")
    path, words, label = buttons(page)[0]
    about = re.search(r'name="about" value="([^"]*)"', page)
    assert about is not None
    sent = {"word": words, "about": about[1]}
    browser.send(path, browser.fields(page) | sent)
    asked = browser.send(path, browser.fields(browser.get("/")) | sent).text
    assert "Nothing is written yet" in asked
    assert unescape(about[1]) in said(asked)
    assert label in about[1]
    assert unescape(about[1]) in said(browser.send(path, browser.fields(page) | sent).text)
    assert len(numbers(live)) == 1


def test_no_sentence_on_the_page_tells_anybody_to_type(quiet: tuple[Live, Browser]) -> None:
    """What the command line would have typed is said by where it is tapped, with a way there."""
    _, browser = quiet
    page = browser.get("/write")
    for verb, words in (("fitted", ["9"]), ("bought", ["lamp"]), ("found", ["hello", "there"]), ("returned", ["x"])):
        refused = browser.send(f"/write/{verb}", browser.fields(page) | {"word": words})
        assert refused.status_code in (200, 422)  # asked about, or refused
        assert not re.search(rf"optimiser ({'|'.join(places.PLACES)})\b", said(refused.text)), said(refused.text)


def test_what_is_typed_elsewhere_is_named_by_its_place() -> None:
    def said_here() -> list[str]:
        calls.are_made_at(places.NAMES)
        return [call("strike", "7"), call("bought", "x", "--price", "1"), call("diary"), call("guide", "page")]

    told = copy_context().run(said_here)
    assert told == ["strike in “The diary” (7)", "“Write down: bought” (x)", "“The diary”", "optimiser guide page"]
    assert [address for address, _ in places.named_in(told)] == ["/diary", "/write#bought"]
    assert call("strike", "7") == "optimiser strike 7"


def test_an_order_has_its_letter_to_send_from_the_phone(planning: Planning) -> None:
    live, new = planning
    assert live.shown is not None
    page = new().get("/")
    order = live.shown.plan.orders[0]
    letter = order_letters.letter(live.shown.plan, order)
    assert unescape(re.search(r'(?s)<pre class="letter">(.*?)</pre>', page)[1]) == letter  # type: ignore[index]
    mail = re.search(r'href="mailto:\?subject=([^&"]*)&amp;body=([^"]*)"', page)
    assert mail is not None
    assert unquote(mail[2]) == letter


def test_an_overdrawn_pot_can_be_raised_and_put_back(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    file = live.folder / "job.toml"
    before = file.read_bytes()
    assert 'action="/pot"' in browser.get("/whatif?pot=300")
    answer = browser.post("/pot", page="/whatif?pot=300", pot="300,50")
    assert answer.headers["location"] == "/?pot=260.00"
    assert live.now().job.pot.cap_minor == 30_050
    assert b"# the whole pot" in file.read_bytes()
    page = browser.get("/?pot=260.00")
    assert "The pot is 300.50 GBP now; it was 260.00." in said(page)
    assert browser.post("/pot", page="/?pot=260.00", pot="260.00").status_code == 303
    assert file.read_bytes() == before
    for wrong in ("", "much", "-5"):
        assert browser.post("/pot", page="/whatif?pot=300", pot=wrong).status_code == 422, wrong
    assert file.read_bytes() == before


def test_a_workshops_price_joins_the_ways_of_a_fault_and_can_be_taken_out_again(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    file = live.folder / "job.toml"
    before = file.read_bytes()
    fault = next(one for one in live.now().job.faults if one.title == "Seat torn to the foam")
    form = {"fault": fault.id, "title": "Quay trimmer sews it", "by": "workshop", "price": "35,50", "chance": "97 %"}
    answer = browser.post("/fault/way", page="/fault", **form)
    assert answer.headers["location"] == f"/?added={fault.id}%2Fquay-trimmer-sews-it"
    way = next(one for one in live.now().job.faults if one.id == fault.id).repairs[-1]
    assert (way.title, way.by, way.price_minor, way.chance) == ("Quay trimmer sews it", "workshop", 3550, 0.97)
    page = browser.get(answer.headers["location"])
    assert "Quay trimmer sews it, for Seat torn to the foam." in said(page)
    again = browser.post("/fault/way", page="/fault", **form)
    assert again.status_code == 422
    undone = browser.post("/fault/undo", page=answer.headers["location"], added=f"{fault.id}/quay-trimmer-sews-it")
    assert undone.status_code == 303
    assert file.read_bytes() == before
    for lacking in ("fault", "title"):
        assert browser.post("/fault/way", page="/fault", **(form | {lacking: ""})).status_code == 422
    for wrong in ({"price": "dear"}, {"chance": "2"}, {"fault": "nothing"}):
        assert browser.post("/fault/way", page="/fault", **(form | wrong)).status_code == 422
    assert file.read_bytes() == before


def test_a_way_that_is_licensed_work_is_put_in_with_a_word(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    with (live.folder / "job.toml").open("a", encoding="utf-8") as job:
        job.write('\n[[fault]]\nid = "hob"\ntitle = "Hob smells of gas"\nseverity = "dangerous"\nsystem = "gas"\n')
    for by, minded in (("self", True), ("workshop", False)):
        form = {"fault": "hob", "title": f"Tap renewed, by {by}", "by": by, "price": "5"}
        page = browser.post("/fault/way", page="/fault", **form).headers["location"]
        assert ("no plan offers this as work of your own" in said(browser.get(page))) is minded


def test_a_way_of_which_something_is_written_down_stays(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    fault = live.now().job.faults[3]
    browser.post("/fault/way", page="/fault", fault=fault.id, title="Quay trimmer sews it", by="workshop", price="35")
    name = f"{fault.id}/quay-trimmer-sews-it"
    assert browser.post("/write/fitted", word=[fault.id, "quay-trimmer-sews-it", "cured"]).status_code == 303
    answer = browser.post("/fault/undo", page=f"/?added={name}", added=name)
    assert answer.status_code == 422
    assert "Something is written down of it: entry 1." in said(answer.text)
    assert browser.post("/strike", page="/diary", entry="1").status_code == 303
    assert browser.post("/fault/undo", page=f"/?added={name}", added=name).status_code == 303


def field(page: str, name: str) -> list[str]:
    """What stands in the fields of a name, and what is chosen there."""
    typed = re.findall(rf'<input name="{name}" value="([^"]*)"', page)
    chosen = re.findall(
        rf'<select name="{name}"[^>]*>(?:(?!</select>).)*<option value="([^"]*)" selected', page, re.DOTALL
    )
    return [unescape(text) for text in (*typed, *chosen) if text]


def test_a_form_that_is_refused_comes_back_as_it_was_filled(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    page = browser.get("/write")
    fault = live.now().job.faults[0].id
    spent = {"form": "spent", "word": ["12 beads", "cloths & tape"], "fault": fault}
    refused = browser.send("/write/spent", browser.fields(page) | spent)
    assert refused.status_code == 422
    own = refused.text[refused.text.index('id="spent"') :].split("</section>")[0]
    assert (field(own, "word"), field(own, "fault")) == (["12 beads", "cloths & tape"], [fault])
    assert "Nothing was written." in own
    assert "12 beads" in said(own)
    assert refused.text.count('role="alert"') == 1
    assert numbers(live) == []
    mended = browser.send("/write/spent", browser.fields(refused.text) | spent | {"word": ["12", "cloths & tape"]})
    assert mended.status_code == 303


@pytest.mark.parametrize(("verb", "words"), [("fitted", ["cured"]), ("fitted", []), ("bought", []), ("bought", [""])])
def test_what_is_about_nothing_is_said_to_be(quiet: tuple[Live, Browser], verb: str, words: list[str]) -> None:
    _, browser = quiet
    refused = browser.post(f"/write/{verb}", form=verb, word=words)
    assert (refused.status_code, "Nothing is chosen that this is about." in refused.text) == (422, True)


def test_a_fault_and_a_price_that_are_refused_come_back_too(quiet: tuple[Live, Browser]) -> None:
    _, browser = quiet
    own = {"form": "own", "title": "Fridge dead", "severity": "minor", "price": "lots", "chance": "0.7"}
    refused = browser.post("/fault", "/fault", **own)
    assert refused.status_code == 422
    asked = refused.text[refused.text.index('id="own"') :].split("</article>")[0]
    given = {name: field(asked, name) for name in ("title", "severity", "price", "chance")}
    assert given == {"title": ["Fridge dead"], "severity": ["minor"], "price": ["lots"], "chance": ["0.7"]}


def test_nothing_is_chosen_before_somebody_chooses_it(planning: Planning) -> None:
    """What came of a step is never what happened to stand first."""
    _, new = planning
    browser = new()
    for place in ("/", "/write"):
        for choices in re.findall(r'<select name="word"[^>]*>(.*?)</select>', browser.get(place), re.DOTALL):
            assert re.match(r'<option value="">', choices.strip()), choices[:200]


def test_a_fault_in_own_words_may_name_what_it_belongs_to(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    own = {"form": "own", "title": "Fridge dead", "severity": "minor", "price": "90", "system": "gas"}
    assert browser.post("/fault", "/fault", **own).status_code == 303
    (added,) = (fault for fault in live.now().job.faults if fault.title == "Fridge dead")
    assert added.systems == ("gas",)
