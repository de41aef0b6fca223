"""The report's data and its files: every figure is the plan's, all of a job is text, no file of it is written over."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from optimiser import service
from optimiser.job_folder import package_data
from optimiser.model import events
from optimiser.model.danger import dangers
from optimiser.model.evidence import FailedAttempt, Piece
from optimiser.model.job import Part, Repair
from optimiser.model.outstanding import OnOrder
from optimiser.model.plan import Plan
from optimiser.model.quotes import STILL_TO_BE_ASKED
from optimiser.model.report import Ask, Report, Turns
from optimiser.model.sale_paper import BACK, Ended
from optimiser.model.stretch import FEW
from optimiser.planning.beside import MOST_LISTED, beside
from optimiser.planning.report import report
from optimiser.show import html, order_letters, steps, wanted_words, wording
from optimiser.show.html import fault_sheets, marks, pictures, sections, taken_as_given
from optimiser.show.html.marks import CautionsTold
from optimiser.show.html.report_page import CONTENTS
from optimiser.state import sale_record
from tests import hostile_job
from tests.planned import EXAMPLES, TODAY, job_of, plan_of
from tests.tiny_job import VARIANTS, but, planned
from tests.unit.conftest import Run
from tests.unit.state import scene as standing

SMALL = ("shortest", "look-first", "try-it", "look-for-nothing", "eight-evenings")


class Page(HTMLParser):
    """What a file holds: its tags with their attributes, its headings, its text, its anchors."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.said: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if not self.tags or self.tags[-1][0] != "style":
            self.said.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.said).split())

    def all(self, name: str) -> list[str]:
        return [str(attributes[name]) for _, attributes in self.tags if name in attributes]


def told(plan: Plan, minutes: int | None = 120) -> Report:
    other_pots = service.stretch(plan.job, looks=FEW) if plan.job.faults else None
    return report(steps.carried_on(plan, {}), (), None, minutes, other_pots)


@cache
def told_of(name: str) -> Report:
    return told(plan_of(name))


@cache
def page_of(name: str) -> Page:
    return Page(html.report(told_of(name)))


@cache
def of(variant: str) -> Report:
    return told(planned(variant))


# ---- the figures are the plan's


@pytest.mark.parametrize("variant", VARIANTS)
def test_the_bar_is_the_pot_piece_by_piece(variant: str) -> None:
    plan = planned(variant)
    drawn, purse = pictures.pot(plan), plan.purse
    if purse.remaining_minor < 0:
        assert "overdrawn by" in drawn.reading
        return
    text = plan.job.currency.text
    assert sum(round(float(row.amount) * 100) for row in drawn.rows) == purse.cap_minor
    assert sum(float(row.width[:-1]) for row in drawn.rows) == pytest.approx(100 if purse.cap_minor else 0, abs=0.05)
    places = [float(row.x[:-1]) for row in drawn.rows]
    assert places == sorted(places)
    assert text(purse.committed_minor) in drawn.reading


def test_every_fault_has_its_sheet_the_gravest_first_with_all_its_steps() -> None:
    for name in SMALL:
        known = told_of(name)
        numbered = steps.numbers(known.plan)
        found = fault_sheets.sheets(known, CautionsTold(), fault_sheets.anchors(known.plan))
        assert [sheet.title for sheet in found] == [c.fault.title or c.fault.id for c in known.plan.choices]
        for sheet, choice in zip(found, known.plan.choices, strict=True):
            tree = [] if choice.route is None else steps.numbered(choice.route.first, numbered.trees[choice.fault.id])
            assert ticked(sheet.route) == [str(n) for n in (steps.told(tree) if tree else ())]
            assert sheet.left == (choice.route is None)
            assert sheet.why.endswith((".", "!"))


def ticked(nodes: tuple[fault_sheets.RouteNode, ...]) -> list[str]:
    return [number for node in nodes for number in ([node.number] if node.number else []) + ticked(node.then)]


def test_options_are_all_there_and_the_efficient_ones_are_those_that_nothing_beats() -> None:
    for name in SMALL:
        plan = plan_of(name)
        for fault, known in beside(plan).items():
            rows = known.options
            assert [row.net_minor for row in rows] == sorted(row.net_minor for row in rows)
            for row in rows:
                better = [
                    other
                    for other in rows
                    if other is not row
                    and (other.net_minor, -other.option.chance) <= (row.net_minor, -row.option.chance)
                    and other.option.chance >= row.option.chance
                ]
                assert row.efficient == (not better), (fault, row.option.key)
            route = plan.selection.route_for(fault)
            tried = set() if route is None else {step.option.key for step in route.attempts}
            assert {row.option.key for row in rows if row.turn != Turns.NEVER} == tried
            assert (known.first is None) == (route is None or route.option is None)


def test_of_very_many_options_none_that_matters_is_left_out() -> None:
    horn, new = VARIANTS["base"].faults[0], VARIANTS["base"].quotes[0]
    many = tuple(but(new, id=f"quotes.csv:{n}", price_minor=900 + n * 7, ref=str(n)) for n in range(2, 60))
    plan = service.plan(but(VARIANTS["base"], quotes=many))
    known = beside(plan)[horn.id]
    assert known.left_out == 58 - len(known.options) > 0
    assert len(known.options) <= MOST_LISTED + 2
    assert known.first is not None
    assert known.options[0].efficient


def test_marks_stand_where_cost_and_chance_say_and_letters_do_not_run_together() -> None:
    for name in SMALL:
        known = told_of(name)
        for choice in known.plan.choices:
            rows = known.beside[choice.fault.id].options
            drawn = pictures.options(known.plan, choice, known.beside[choice.fault.id])
            if drawn is None:
                assert len(rows) < 2
                continue
            xs, ys = [float(m.x[:-1]) for m in drawn.marks], [float(m.y[:-2]) for m in drawn.marks]
            assert xs == sorted(xs)
            assert all(0 < x < 100 for x in xs)
            assert all(0 <= y <= pictures.FIGURE_LINES for y in ys)
            assert [row.option.chance for row in rows].index(max(row.option.chance for row in rows)) == ys.index(
                min(ys)
            )
            letters = [(x, float(m.letter_y[:-2])) for x, m in zip(xs, drawn.marks, strict=True) if m.letter]
            assert not [
                (a, b)
                for n, a in enumerate(letters)
                for b in letters[n + 1 :]
                if abs(a[0] - b[0]) < pictures.LEAST_APART and abs(a[1] - b[1]) < pictures.LETTER_LINES
            ]
            assert len(drawn.strokes) == max(0, sum(row.efficient for row in rows) - 1)


def test_the_line_of_other_pots_is_dashed_where_nobody_looked_and_only_there() -> None:
    job = job_of("shortest")
    few, every = service.stretch(job, looks=FEW), service.stretch(job, looks=None)
    known = told_of("shortest")
    for found in (few, every):
        page = Page(html.report(replace(known, stretch=found)))
        strokes = [given for tag, given in page.tags if tag == "line" and str(given.get("class")) == "chain open"]
        unknown = [piece for piece in found.line if not piece.known]
        assert bool(unknown) == (found is few)
        assert [stroke["x2"] for stroke in strokes] == [
            f"{100 * piece.to_minor / found.most_minor:.2f}%" for piece in unknown
        ]
        assert ("Where the line is dashed, nobody looked" in page.text) == bool(unknown)


def test_odds_before_and_after_are_the_plans() -> None:
    plan = plan_of("look-first")
    (choice,) = [c for c in plan.choices if c.route is not None and c.option is None]
    drawn = pictures.odds(plan, choice)
    assert drawn is not None
    assert drawn.cases[0] == "Now"
    found = plan.odds[choice.fault.id]
    assert [row.cause for row in drawn.rows] == [one.cause for one in found]
    assert [row.cells[0][1] for row in drawn.rows] == [f"{one.now * 100:.2f}%" for one in found]
    assert len(drawn.cases) == 1 + len(found[0].after)
    assert "After the look" in drawn.reading


def test_what_stands_beside_the_choice_is_said_with_its_price() -> None:
    known = of("base")
    horn = known.plan.choice("horn")
    sheet = fault_sheets.sheets(known, CautionsTold(), fault_sheets.anchors(known.plan))[0]
    first = known.beside["horn"].first
    assert horn.option is not None
    assert first is not None
    rows = known.beside["horn"].options
    other = next(row for row in rows if row is not first)
    assert known.plan.job.currency.text(abs(other.net_minor - first.net_minor)) in sheet.change
    assert "optimiser compare horn" in sheet.change


def test_a_way_that_is_both_surer_and_cheaper_bought_alone_is_named_once() -> None:
    known = of("base")
    beside = known.beside["horn"]
    first = beside.first
    assert first is not None
    other = next(row for row in beside.options if row is not first)
    surer = other.option.model_copy(update={"chance": first.option.chance + 0.01})
    other = other.model_copy(update={"option": surer, "net_minor": first.net_minor - 100})
    beside = beside.model_copy(update={"options": (first, other)})
    known = replace(known, beside={**known.beside, "horn": beside})
    sheet = fault_sheets.sheets(known, CautionsTold(), fault_sheets.anchors(known.plan))[0]
    assert "B is 1.0 points surer for 1.00 GBP less, each bought alone. A price" in sheet.change


def test_nothing_is_taken_for_said_that_was_not() -> None:
    given = {one.what: one for one in taken_as_given.given(told_of("shortest"))}
    assert given["The whole pot"].source == taken_as_given.SAID
    assert given["Held back"].source == taken_as_given.SAID
    assert given["Safety counts before all else"].source == taken_as_given.INVENTED
    for condition in package_data.conditions():
        assert condition in given["A part is sound, where its quote does not say"].value
    assert all(one.source for one in given.values())


# ---- cautions stand where the work is, each in full once


def test_each_caution_is_told_in_full_once_before_the_work_that_needs_it() -> None:
    plan = plan_of("eight-evenings")
    page = html.report(told_of("eight-evenings"))
    for title, lines in plan.cautions.items():
        anchor = marks.anchor("caution", marks.bare(title))
        assert page.count(f'id="{anchor}"') == 1
        assert lines[0].replace("'", "&#39;") in page
    parsed = Page(page)
    pointed = {there[1:] for there in parsed.all("href") if there.startswith("#caution-")}
    assert pointed <= set(parsed.all("id"))


@pytest.mark.parametrize("name", SMALL)
def test_a_card_has_the_cautions_of_every_step_that_is_on_it(name: str) -> None:
    known = told_of(name)
    written = Page(html.card(known)).text
    for task in known.tonight.tasks:
        shown = task.supplier == "" and task.doing.by_hand and f" {steps.numbers(known.plan).faults[task.faults[0]]} " in written  # noqa: E501 # fmt: skip
        for lines in known.first_cautions.get(task.faults[0], {}).values() if shown else ():
            assert " ".join(lines) in written
    assert known.tonight.tasks == () or 'class="box"' in html.card(known)


def test_a_card_that_cannot_hold_all_says_how_many_wait() -> None:
    lamp = VARIANTS["base"].faults[1]
    many = tuple(but(lamp, id=f"lamp-{n}", title=f"Lamp {n} dead") for n in range(60))
    plan = service.plan(but(VARIANTS["base"], faults=many, pot=but(VARIANTS["base"].pot, cap_minor=100_000)))
    written = Page(html.card(told(plan, None))).text
    left = 60 - written.count("Maker's figures")
    assert 0 < left < 60
    assert f"{left} more wait" in written


def test_a_card_names_what_the_vehicle_must_not_be_used_for() -> None:
    horn = VARIANTS["base"].faults[0]
    many = tuple(but(horn, id=f"brake-{n}", title=f"Brake {n} pulls", severity="dangerous") for n in range(7))
    for faults, named in ((many[:1], "Dangerous: Brake 0 pulls."), (many, "Brake 4 pulls; and 2 more.")):
        plan = service.plan(but(VARIANTS["base"], faults=faults, pot=but(VARIANTS["base"].pot, cap_minor=100_000)))
        ban, _, steps_of_it = Page(html.card(told(plan, None))).text.partition("never in use.")
        assert "THE VEHICLE MUST NOT BE USED" in ban
        assert named in steps_of_it[:200]


# ---- the file is whole, and only a file


@pytest.mark.parametrize("name", SMALL)
def test_a_report_needs_nothing_beside_it(name: str) -> None:
    page = page_of(name)
    assert page.tags[0] == ("html", {"lang": "en-GB"})
    assert not {tag for tag, _ in page.tags} & {"script", "img", "iframe", "object", "embed", "link", "base", "form"}
    assert all(there.startswith("#") for there in page.all("href"))
    assert not page.all("src")
    assert len(page.all("id")) == len(set(page.all("id")))
    assert {there[1:] for there in page.all("href")} <= set(page.all("id"))
    assert set(page.all("for")) <= set(page.all("id"))
    levels = [int(tag[1]) for tag, _ in page.tags if tag in ("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


@pytest.mark.parametrize("name", SMALL)
def test_sections_stand_in_the_order_of_the_work(name: str) -> None:
    raw = html.report(told_of(name))
    places = [raw.index(f'<section id="{anchor}">') for anchor, _ in CONTENTS]
    assert places == sorted(places)
    if dangers(plan_of(name).job):
        assert raw.index("THE VEHICLE MUST NOT BE USED") < places[0]


@pytest.mark.parametrize("variant", VARIANTS)
def test_every_kind_of_job_has_its_report_and_card(variant: str) -> None:
    known = of(variant)
    assert Page(html.report(known)).text
    assert Page(html.card(known)).text


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Report:
    folder = hostile_job.write(tmp_path_factory.mktemp("hostile") / "job")
    return told(service.plan(service.moment(folder, TODAY).job))


@pytest.mark.parametrize("paper", [html.report, html.card])
def test_of_a_hostile_job_everything_is_text(paper: Callable[[Report], str], hostile: Report) -> None:
    raw = paper(hostile)
    page = Page(raw)
    assert hostile_job.MARK in page.text
    assert {tag for tag, _ in page.tags} <= TAGS
    assert not [name for _, attributes in page.tags for name in attributes if name.startswith("on")]
    assert not page.all("src")
    assert all(there.startswith("#") for there in page.all("href"))
    assert raw.count("<style>") == raw.count("</style>") == 1
    assert "{{ 7*7 }}" in page.text or paper is html.card
    assert not [sign for sign in page.text if sign in "\N{RIGHT-TO-LEFT OVERRIDE}\N{RIGHT-TO-LEFT MARK}"]


TAGS = {
    "html", "head", "meta", "title", "style", "body", "div", "main", "section", "header", "nav", "footer", "article",
    "h1", "h2", "h3", "h4", "p", "ul", "ol", "li", "dl", "dt", "dd", "a", "strong", "span", "bdi", "s", "table",
    "caption", "thead", "tbody", "tr", "th", "td", "figure", "figcaption", "svg", "g", "defs", "pattern", "rect",
    "circle", "line", "path", "text", "input", "label",
}  # fmt: skip


# ---- orders, parts to ask for


def test_letters_are_the_orders_to_the_penny() -> None:
    plan = steps.carried_on(plan_of("eight-evenings"), {})
    assert plan.orders
    for order in plan.orders:
        said = order_letters.letter(plan, order)
        assert plan.job.currency.text(order.total_minor) in said
        assert all(len(line) <= order_letters.WIDTH for line in said.splitlines())
        rows = list(order_letters.rows(plan, order))
        assert sum(row[6] for row in rows) == plan.job.currency.decimal(order.goods_minor)
        assert [row[0] for row in rows] == [line.quote.ref for line in order.lines]
        assert "DANGEROUS" not in said
    assert len(set(order_letters.file_names(plan))) == len(plan.orders)


def test_a_letter_says_that_it_belongs_to_an_order_of_today() -> None:
    plan = plan_of("eight-evenings")
    order = plan.orders[0]
    ordered = OnOrder(bought=7, part=order.lines[0].quote.part, supplier=order.supplier.id, units=2, days=1)
    plan = plan.model_copy(update={"job": but(plan.job, on_order=(ordered,))})
    assert "belongs to" not in order_letters.letter(plan, order)
    joining = order.model_copy(update={"supplier": but(order.supplier, joins=(7,), own=order.supplier)})
    title = wording.part(plan.job, ordered.part)
    said = " ".join(order_letters.letter(plan, joining).split())
    assert f"This belongs to my order of today (2 x {title}): please send both as one." in said


def test_what_nobody_has_quoted_is_asked_for_and_not_ordered() -> None:
    base = VARIANTS["base"]
    rough = but(base, quotes=(), suppliers=())
    plan = service.plan(rough)
    (asked,) = told(plan).wanted
    assert (asked.part, asked.why, asked.faults, asked.conditions[0]) == ("disc", Ask.NOBODY, ("horn",), "new")
    assert order_letters.sent(plan) == ()
    assert "disc" in wanted_words.listed(plan, told(plan).wanted)


@pytest.mark.parametrize(("condition", "asked"), [("new", []), ("salvage", [Ask.TRIED])])
def test_what_did_not_cure_is_asked_for_again_only_if_it_may_have_been_bad_itself(
    condition: str, asked: list[Ask]
) -> None:
    base = VARIANTS["base"]
    quote = but(base.quotes[0], condition=condition)
    job = but(base, quotes=(quote,), tried_on={"horn": (quote.id,)}, seen={"horn": (FailedAttempt("swap", (Piece(quote.id, 0.9),)),)})  # noqa: E501 # fmt: skip
    plan = service.plan(job)
    wanted = told(plan).wanted
    assert [one.why for one in wanted] == asked
    assert "nobody quotes it" not in wanted_words.listed(plan, wanted)


def test_parts_are_asked_for_in_the_order_of_what_hangs_on_them() -> None:
    base = VARIANTS["base"]
    lamp = but(base.faults[1], repairs=(but(base.faults[1].repairs[0], parts={"bulb": 1}),))
    dear = but(base.quotes[0], id="quotes.csv:9", part="bulb", price_minor=1000)
    found = told(service.plan(but(base, faults=(base.faults[0], lamp), quotes=(base.quotes[0], dear), pot=RICH))).wanted
    assert [(one.part, one.why) for one in found] == [("bulb", Ask.ONE_SHOP), ("disc", Ask.ONE_SHOP)]
    assert found[0].in_doubt_minor == 1000
    two_shops = told(service.plan(base)).wanted
    assert [one for one in two_shops if one.part == "disc"] == []


def test_as_many_pieces_are_asked_for_as_are_fitted_and_not_as_many_as_are_bought_on_the_average() -> None:
    base = VARIANTS["base"]
    sure, odd = (Repair(id=name, cures={cause: 0.9}, parts=parts) for name, cause, parts in (
        ("bulb", "bulb", {"disc": 1}), ("four", "four", {"plug": 4}),
    ))  # fmt: skip
    fault = but(base.faults[0], causes={"bulb": 3.0, "four": 1.0}, repairs=(sure, odd))
    rough = (but(base.quotes[0], id=f"rough:{part}", part=part, supplier=STILL_TO_BE_ASKED, rough=True) for part in ("disc", "plug"))  # noqa: E501 # fmt: skip
    settings = but(base.settings, fallbacks=True)
    parts = tuple(Part(id=part, rough_price={"new": (900, 1100)}) for part in ("disc", "plug"))
    job = but(base, settings=settings, parts=parts, faults=(fault,), quotes=tuple(rough), pot=RICH)
    plan = service.plan(job)
    assert {one.part: one.pieces for one in told(plan).wanted} == {"disc": 1, "plug": 4}


def test_a_part_that_is_never_fitted_used_is_not_asked_for_used() -> None:
    base = VARIANTS["base"]
    guarded = but(base, quotes=(), suppliers=(), parts=(but(PART, kind="friction"),))
    (asked,) = told(service.plan(guarded)).wanted
    assert asked.conditions == ("new", "refurbished")


def test_a_plan_that_orders_nothing_has_no_part_quoted_by_several() -> None:
    plan = service.plan(but(VARIANTS["base"], pot=but(VARIANTS["base"].pot, cap_minor=0)))
    assert not plan.orders
    assert wanted_words.listed(plan, ()).endswith("has no part to ask about: it orders none.\n")
    bought = service.plan(VARIANTS["base"])
    assert bought.orders
    assert "quoted by more than one shop" in wanted_words.listed(bought, ())


PART = VARIANTS["set"].parts[0]
RICH = but(VARIANTS["base"].pot, cap_minor=5000)


# ---- the verb


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return Path(shutil.copytree(EXAMPLES / "eight-evenings", tmp_path / "job", ignore=shutil.ignore_patterns("rec*")))


def test_the_verb_writes_what_it_says(run: Run, job: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    code, said, err = run("report", job, "-o", out / "r.html", "--orders", out / "letters", "--wanted", out / "w.csv",
                          "--sale", out / "s.html")  # fmt: skip
    assert (code, err) == (0, "")
    written = sorted(path for path in out.rglob("*") if path.is_file())
    assert said.count("Written: ") == len(written) == 7
    assert "Better sent after step" in " ".join(said.split())
    assert {path.suffix for path in written} == {".html", ".csv", ".txt"}
    assert (out / "r.html").stat().st_size < 1_000_000
    with (out / "w.csv").open(encoding="utf-8", newline="") as file:
        assert next(csv.reader(file))[0] == "part"
    assert "nothing was done" in Page((out / "s.html").read_text(encoding="utf-8")).text
    assert not list(out.rglob(".*"))


def test_a_report_tells_the_diary_and_what_moved_and_keeps_the_plan(run: Run, job: Path, tmp_path: Path) -> None:
    file = tmp_path / "r.html"
    assert run("report", job, "-o", file)[0] == 0
    assert "Nothing is written down yet" in file.read_text(encoding="utf-8")
    assert run("found", job, "2", "dead")[0] == 0
    assert run("report", job, "-o", file)[0] == 0
    text = Page(file.read_text(encoding="utf-8")).text
    assert "Car running, measure behind the fuse: dead" in text
    assert "was left, is taken up" in text
    assert "As written" in text


def test_at_the_sale_it_is_told_what_was_done_when_and_what_was_not(run: Run, job: Path, tmp_path: Path) -> None:
    for words in (("plan",), ("found", "2", "dead"), ("bought", "tollgate-trailers"), ("fitted", "1", "cured"),
                  ("fitted", "5", "not-cured", "--sent-back"), ("noted", "the neighbour is nosy")):  # fmt: skip
        assert run(words[0], job, *words[1:])[0] == 0
    file = tmp_path / "s.html"
    assert run("report", job, "--sale", file)[0] == 0
    text = Page(file.read_text(encoding="utf-8")).text
    put_right, left = text.split("Left undone", 1)
    assert "Overrun brakes pull to one side" in put_right
    assert "Brake shoes, axle set, new, from Tollgate Trailers" in put_right
    assert "Coupling knocks when braking" in left
    assert "did not cure it" in left
    assert "taken out again" in left
    assert "Tried, and not put right" in left
    assert "neighbour" not in text
    assert "Part used: 1 x Brake shoes" in put_right
    assert "Tried: " in left
    assert "GBP" not in text
    assert run("report", job, "--sale", file, "--prices")[0] == 0
    assert "38.00 GBP" in file.read_text(encoding="utf-8")


def test_the_buyer_reads_no_ids_and_no_orders(run: Run, tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(
        '[money]\ncap = "9"\n[[fault]]\nid = "brake"\nseverity = "minor"\ncauses = { stuck-piston = 1, hose = 1 }\n'
        '[[fault.check]]\nid = "screw"\ntitle = "Open the bleed screw: does it let go?"\n'
        "results = { lets-go = { hose = 1.0, default = 0.1 } }\n"
        '[[fault.repair]]\nid = "free"\ntitle = "Free the piston"\nchance = 0.9\n',
        encoding="utf-8",
    )
    for said in (("found", "screw", "not-lets-go"), ("found", "is", "stuck-piston"), ("fitted", "free", "cured")):
        assert run(said[0], tmp_path, "brake", *said[1:])[0] == 0
    assert run("report", tmp_path, "--sale", tmp_path / "s.html")[0] == 0
    text = Page((tmp_path / "s.html").read_text(encoding="utf-8")).text
    assert "Looked: Open the bleed screw: does it let go? Lets go? No." in text
    assert "Seen to be the cause: stuck piston." in text
    assert "Done: Free the piston. That cured it." in text


@pytest.mark.parametrize(
    ("back", "said"),
    [
        (0, "60.00 GBP, taken out again, sent back."),
        (2500, "60.00 GBP, taken out again, sent back, 25.00 GBP of it refunded."),
        (7000, "from cole, taken out again, sent back, refunded."),
    ],
)
@pytest.mark.parametrize("kept", [False, True], ids=["at once", "later"])
def test_a_part_that_went_back_is_told_with_what_came_back(back: int, said: str, kept: bool) -> None:
    piece = standing.piece("bought:1", then="kept" if kept else "sent-back")
    went = [events.SentBack(**standing.SAID, part="motor", units=1, bought=1)] if kept else []
    refund = events.Refund(**standing.MONEY, amount_minor=back, bought=1)
    happened = (standing.bought(), standing.fitted("blower", "motor", piece), *went, *([refund] if back else ()))
    paper = sale_record.paper(standing.after(happened).job, events.entries(enumerate(happened, 1)))
    text = " ".join(html.sale(paper, prices=True).split())
    assert said in text
    assert ("60.00 GBP" in text) == (back < 6000)


def test_what_came_right_after_its_twin_was_mended_is_told_so() -> None:
    right = events.CameRight(**standing.SAID, fault="rear")
    mended = standing.fitted("blower", "wire", cured=True)

    def told(*happened: events.Happening) -> str:
        paper = sale_record.paper(standing.after(happened).job, events.entries(enumerate(happened, 1)))
        return " ".join(html.sale(paper).split())

    after = told(mended, right)
    assert "Came right once its twin was mended (Blower dead)" in after
    assert "Gone since Blower dead was mended, and no repair of its own cured it." in after
    assert "Gone, and nothing was done for it." in told(right, mended)
    assert "Gone, and no repair of its own cured it." in told(standing.fitted("rear", "wire"), right)


def test_a_fault_that_came_back_is_told_as_repaired_and_back_and_as_it_stands(
    run: Run, job: Path, tmp_path: Path
) -> None:
    for words in (("plan",), ("bought", "tollgate-trailers"), ("fitted", "1", "cured"), ("found", "brakes", "is-back")):
        assert run(words[0], job, *words[1:])[0] == 0
    assert run("report", job, "--sale", tmp_path / "s.html")[0] == 0
    text = Page((tmp_path / "s.html").read_text(encoding="utf-8")).text
    left = text.split("Left undone", 1)[1]
    assert "NOT FIT FOR USE" in text
    assert "Overrun brakes pull to one side" in left
    assert "Put right, came back, and not put right since" in left
    assert left.index("That cured it.") < left.index("Came back.")
    assert "Noticed." not in text


@pytest.mark.parametrize(
    ("then", "ended"),
    [
        ((), Ended.CAME_BACK),
        ((standing.fitted("blower", "wire", cured=True),), Ended.CURED_AGAIN),
        ((standing.fitted("blower", "wire"),), Ended.CAME_BACK),
        ((standing.found(),), Ended.CAME_BACK),
    ],
)
def test_a_fault_that_came_back_ends_as_it_was_left(then: tuple[events.Happening, ...], ended: Ended) -> None:
    said = (standing.fitted("blower", "wire", cured=True), standing.is_back(), *then)
    record = events.entries(enumerate(said, 1))
    told = sale_record.paper(standing.after(said).job, record)
    (story,) = (one for one in (*told.mended, *told.left) if one.fault.id == "blower")
    assert (story.ended, story.noticed, story.done) == (ended, None, ended == Ended.CURED_AGAIN)
    assert [deed.result for deed in story.deeds][:2] == ["", BACK]


def test_a_repair_made_twice_is_no_return_of_the_fault() -> None:
    """Nor is a fault noticed late one that came back."""
    said = (standing.is_back("squeak", title="Squeak"), *[standing.fitted("blower", "wire", cured=True)] * 2)
    told = sale_record.paper(standing.after(said).job, events.entries(enumerate(said, 1)))
    ended = {one.fault.id: (one.ended, one.noticed is not None) for one in (*told.mended, *told.left)}
    assert (ended["blower"], ended["squeak"]) == ((Ended.CURED, False), (Ended.UNTOUCHED, True))


def test_what_was_left_as_it_is_is_told_with_its_day_and_without_the_reason(
    run: Run, job: Path, tmp_path: Path
) -> None:
    assert run("left", job, "Coupling knocks when braking", "--why", "the buyer will not hear it")[0] == 0
    assert run("report", job, "--sale", tmp_path / "s.html")[0] == 0
    left = Page((tmp_path / "s.html").read_text(encoding="utf-8")).text.split("Left undone", 1)[1]
    assert "Decided: left as it is." in left
    assert "Not put right; nothing was done" in left
    assert "hear it" not in left


def test_a_dangerous_fault_that_is_left_heads_the_paper_of_the_sale(run: Run, job: Path, tmp_path: Path) -> None:
    file = tmp_path / "s.html"
    assert run("report", job, "--sale", file)[0] == 0
    assert "NOT FIT FOR USE: dangerous and not put right: Overrun brakes" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "A report is a file"),
        (("--card",), "--card needs a file"),
        (("-o", "r.html", "--prices"), "--prices is for"),
        (("-o", "r.html", "--wanted", "r.html"), "cannot be one file"),
        (("-o", "JOB/job.toml"), "is a file of the job itself"),
        (("--wanted", "JOB/quotes/asked.csv"), "is a file of the job itself"),
        (("--orders", "JOB/quotes"), "is a file of the job itself"),
        (("-o", "nowhere/at/all/r.html"), "cannot be written"),
        (("-o", "."), "is no plain file"),
    ],
)
def test_calls_that_are_wrong_write_nothing(
    words: tuple[str, ...], said: str, run: Run, job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    code, out, err = run("report", job, *(word.replace("JOB", str(job)) for word in words))
    assert (code, out) == (2, "")
    assert said in " ".join(err.split())
    after = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    assert {path for path in after if path.name != "record.sqlite"} == set(before)
    assert all(after[path] == content for path, content in before.items())


def test_json_lists_the_files(run: Run, job: Path, tmp_path: Path) -> None:
    code, out, _ = run("report", job, "-o", tmp_path / "r.html", "--json")
    assert code == 0
    assert f'"file": "{tmp_path / "r.html"}"' in out
    assert '"dangerous"' in out


def test_names_of_files_are_plain_and_of_nobody_elses_making() -> None:
    plan = steps.carried_on(plan_of("eight-evenings"), {})
    order = plan.orders[0]
    evil = order.model_copy(update={"supplier": but(order.supplier, id="../../Ünï c:<>|évil")})
    names = order_letters.file_names(plan.model_copy(update={"orders": (evil, *plan.orders[1:])}))
    assert all(set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-") for name in names)
    asked = order.model_copy(update={"supplier": but(order.supplier, id=STILL_TO_BE_ASKED)})
    assert order_letters.sent(plan.model_copy(update={"orders": (asked,)})) == ()


def test_the_lead_is_what_tonight_says_next() -> None:
    known = told_of("look-first")
    found = sections.next_steps(known, CautionsTold(), fault_sheets.anchors(known.plan))
    ticks = [tick for _, ticks in found.groups for tick in ticks]
    assert len(ticks) == len(known.tonight.tasks)
    assert found.first.startswith("Next: ")
    assert job_of("look-first").settings.title in page_of("look-first").text
