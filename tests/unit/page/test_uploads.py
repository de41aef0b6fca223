"""Suppliers' sheets dropped into the page: bounded, read, doubts settled by choosing, taken in."""

from __future__ import annotations

import io
import re
from html import unescape
from pathlib import Path

import pytest

from optimiser.errors import CallError, Problem, WordsError
from optimiser.page.live import Live
from optimiser.page.uploads import LONGEST_NAME, MOST_BATCHES, Uploads, plain_name
from optimiser.quote_import import telling
from tests.unit.page.serving_a_job import ORIGIN, Browser, served
from tests.unit.page.test_taps import said

CLEAR = b"Supplier: Alderfold Spares\npart,condition,price\nbilge-pump,new,31.00\n"


@pytest.fixture
def shop(looking: Path) -> tuple[Live, Browser]:
    live, new = served(looking, start=False)
    return live, new()


def drop(browser: Browser, *files: tuple[str, bytes]) -> tuple[int, str]:
    """Drop files in; the status, and where it led or what it said."""
    fields = browser.fields(browser.get("/sheets"))
    sent = [("file", (name, io.BytesIO(content))) for name, content in files]
    headers = {"Origin": ORIGIN}
    answer = browser.client.post("/sheets", data=fields, files=sent, headers=headers, follow_redirects=False)
    return answer.status_code, answer.headers.get("location") or answer.text


def a_part(live: Live) -> str:
    return next(iter(live.now().job.titles_of_parts))


def test_a_clear_sheet_is_understood_and_taken_in_on_a_word(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    sheet = f"part,supplier,condition,price\n{a_part(live)},alderfold,new,31.00\n".encode()
    status, path = drop(browser, ("alderfold.csv", sheet))
    assert (status, path) == (303, "/sheets/1")
    page = said(browser.get(path))
    assert "1 quote understood" in page
    assert "31.00" in page
    quotes = len(live.now().job.quotes)
    answer = browser.post(path, page=path, what="accept")
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"].startswith("/?taken=quotes")
    assert len(live.now().job.quotes) == quotes + 1
    assert "Taken in" in said(browser.get(answer.headers["location"]))
    assert "Taken in: quotes/" in said(browser.get(path))


def accepted(live: Live, browser: Browser, price: str = "31.00") -> str:
    """Take a sheet of one quote in; where that leads."""
    sheet = f"part,supplier,condition,price\n{a_part(live)},alderfold,new,{price}\n".encode()
    _, path = drop(browser, ("alderfold.csv", sheet))
    return str(browser.post(path, page=path, what="accept").headers["location"])


def files_of(live: Live) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (*live.folder.glob("*.csv"), *live.folder.glob("quotes/*.csv"))}


def test_what_was_taken_in_is_taken_out_and_put_back_by_a_tap(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    before = files_of(live)
    notice = browser.get(accepted(live, browser))
    sheet = re.findall(r'action="/sheets/out">.*?name="sheet" value="([^"]*)"', notice)
    assert sheet == ["quotes/alderfold-2026-11-24.csv"]
    assert "Undo" in said(notice)
    assert "Undo" in said(browser.get("/sheets/1"))
    after = files_of(live)
    gone = browser.post("/sheets/out", sheet=sheet[0])
    assert gone.headers["location"] == "/?out=quotes%2Falderfold-2026-11-24.csv"
    assert files_of(live) == before
    notice = browser.get(gone.headers["location"])
    assert "Taken out quotes/alderfold-2026-11-24.csv. All stands as it did before" in said(notice)
    assert "Put it back" in said(notice)
    assert "Take it into the job" in said(browser.get("/sheets/1"))
    back = browser.post("/sheets/out", sheet=sheet[0], what="back")
    assert back.headers["location"].startswith("/?taken=quotes")
    assert files_of(live) == after


def test_a_tap_too_many_takes_nothing_else_out(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    notice = accepted(live, browser)
    sheet = "quotes/alderfold-2026-11-24.csv"
    assert browser.post("/sheets/out", sheet=sheet).status_code == 303
    stands = files_of(live)
    again = browser.post("/sheets/out", sheet=sheet)
    assert again.status_code == 422
    assert "is taken out already" in said(again.text)
    assert '/sheets">' in again.text
    assert "Undo" not in said(browser.get(notice))
    assert browser.post("/sheets/out").status_code == 422
    assert browser.post("/sheets/out", sheet="../job.toml").status_code == 422
    assert browser.post("/sheets/out", sheet="made-up.csv", what="back").status_code == 422
    assert files_of(live) == stands


def test_older_acceptances_are_listed_and_the_newest_of_a_shop_goes_first(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    before = files_of(live)
    assert "What was taken in" not in said(browser.get("/sheets"))
    accepted(live, browser)
    accepted(live, browser, "33.00")
    sheets = re.findall(r'name="sheet" value="([^"]*)"', browser.get("/sheets"))
    assert sheets == ["quotes/alderfold-2026-11-24-2.csv", "quotes/alderfold-2026-11-24.csv"]
    refused = browser.post("/sheets/out", sheet=sheets[1])
    assert refused.status_code == 422
    assert f"{sheets[0]} was taken in after {sheets[1]}" in said(refused.text)
    for sheet in sheets:
        assert browser.post("/sheets/out", page="/sheets", sheet=sheet).status_code == 303
    assert files_of(live) == before
    page = said(browser.get("/sheets"))
    assert "quotes/alderfold-2026-11-24.csv (taken out) from alderfold Put it back" in page
    accepted(live, browser, "34.00")
    page = said(browser.get("/sheets"))
    assert "quotes/alderfold-2026-11-24.csv from alderfold Take it out" in page
    assert "quotes/alderfold-2026-11-24.csv (taken out)" not in page


def test_what_was_changed_by_hand_is_said_on_the_page(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    accepted(live, browser)
    sheet = live.folder / "quotes/alderfold-2026-11-24.csv"
    sheet.write_text(sheet.read_text(encoding="utf-8").replace("31.00", "30.00"), encoding="utf-8")
    refused = browser.post("/sheets/out", sheet="quotes/alderfold-2026-11-24.csv")
    assert refused.status_code == 422
    assert "quotes/alderfold-2026-11-24.csv was changed since: nothing was taken out." in said(refused.text)


def test_a_form_that_is_not_ours_takes_nothing_out(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    accepted(live, browser)
    stands = files_of(live)
    sent = {"sheet": "quotes/alderfold-2026-11-24.csv", "token": "made up"}
    assert browser.send("/sheets/out", sent).status_code == 403
    assert files_of(live) == stands


def test_a_doubt_is_settled_by_choosing_among_the_printed_ways(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    sheet = f"part;supplier;condition;pack;price\n{a_part(live)};alderfold;new;10;1.234\n".encode()
    _, path = drop(browser, ("alderfold.csv", sheet))
    page = browser.get(path)
    assert "To settle first" in page
    refused = browser.post(path, page=path, what="accept")
    assert refused.headers["location"] == path
    ways = [unescape(way) for way in re.findall(r'type="radio" name="doubt-0" value="([^"]+)"', page)]
    assert sorted(ways) == ['--decimal ","', '--decimal "."']
    made_up = browser.post(path, page=path, **{"doubt-0": "--decimal ;"})
    assert made_up.status_code == 422
    assert browser.post(path, page=path, **{"doubt-0": '--decimal ","'}).status_code == 303
    page = browser.get(path)
    assert "To settle first" not in page
    assert 'Settled so far: the sign before the decimals is ","' in said(page)
    assert browser.post(path, page=path, what="forget").status_code == 303
    assert "To settle first" in browser.get(path)


def test_options_of_ones_own_settle_too_and_wrong_ones_are_said(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    sheet = f"part;supplier;condition;pack;price\n{a_part(live)};alderfold;new;10;1.234\n".encode()
    _, path = drop(browser, ("alderfold.csv", sheet))
    for wrong in ("--word", "rm -rf", "--word 'open", "--accept yes", "--word x", "--decimal"):
        assert browser.post(path, page=path, **{"own-0": wrong}).status_code == 422, wrong
    assert browser.post(path, page=path, **{"own-0": "--decimal ,"}).status_code == 303
    assert "To settle first" not in browser.get(path)


@pytest.mark.parametrize("content", [b"", b"\x00" * 100, b"%PDF-1.7 x", b"\x89PNG\r\n\x1a\n", b"PK\x03\x04junk", b"<html><script>alert(1)</script>"])  # noqa: E501 # fmt: skip
def test_what_is_no_sheet_is_said_to_be_none(shop: tuple[Live, Browser], content: bytes) -> None:
    live, browser = shop
    before = live.now().job
    _, path = drop(browser, ("prices.csv", content))
    page = browser.get(path)
    assert "cannot be read" in page
    assert "<script>alert" not in page
    assert browser.post(path, page=path, what="accept").headers["location"] == path
    assert live.now().job == before


def test_no_file_and_too_many_files_are_refused(shop: tuple[Live, Browser]) -> None:
    _, browser = shop
    status, text = drop(browser, ("", b""))
    assert status == 422
    assert "No file was chosen" in text
    assert drop(browser, *((f"s{n}.csv", CLEAR) for n in range(11)))[0] == 400


def test_very_large_sheets_are_refused(shop: tuple[Live, Browser]) -> None:
    assert drop(shop[1], ("big.csv", b"x" * 21_000_000))[0] == 413


@pytest.mark.parametrize("path", ["/sheets/2", "/sheets/99999999999999999999"])
def test_sheets_that_are_not_kept_are_said(shop: tuple[Live, Browser], path: str) -> None:
    assert "not kept any more" in shop[1].get(path, 422)


@pytest.mark.parametrize("path", ["/sheets/..%2f..%2fetc%2fpasswd", "/sheets/-1", "/look.css/../../x", "/%2e%2e/job.toml", "/job.toml", "/record.sqlite"])  # noqa: E501 # fmt: skip
def test_no_file_is_had_by_its_path(shop: tuple[Live, Browser], path: str) -> None:
    assert shop[1].client.get(path).status_code == 404


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../etc/passwd", "passwd"),
        ("..\\..\\boot.ini", "boot.ini"),
        ("C:\\Users\\x\\prices.xlsx", "prices.xlsx"),
        ("/etc/cron.d/x.csv", "x.csv"),
        ("..", "sheet"),
        (".", "sheet"),
        ("", "sheet"),
        (".hidden.csv", "hidden.csv"),
        ("a\x00b\nc.csv", "a_b_c.csv"),
        ("\u202egpj.csv", "_gpj.csv"),
        ("<script>.csv", "_script_.csv"),
        ("Preisliste März.csv", "Preisliste März.csv"),
    ],
)
def test_a_file_s_name_is_a_name_and_no_path(name: str, kept: str) -> None:
    assert plain_name(name) == kept


def test_long_names_keep_their_ending() -> None:
    kept = plain_name("x" * 10_000 + ".csv")
    assert len(kept) <= LONGEST_NAME
    assert kept.endswith(".csv")


def test_files_of_one_name_lie_side_by_side_and_the_oldest_go() -> None:
    dropped = Uploads()
    batch = dropped.lay_down([("a.csv", io.BytesIO(b"1")), ("x/a.csv", io.BytesIO(b"2"))])
    assert [path.name for path in batch.files] == ["a.csv", "a-2.csv"]
    assert [path.read_bytes() for path in batch.files] == [b"1", b"2"]
    for _ in range(MOST_BATCHES):
        dropped.lay_down([("b.csv", io.BytesIO(b"3"))])
    assert not any(path.exists() for path in batch.files)
    with pytest.raises(CallError, match="not kept"):
        dropped.batch(1)
    room = batch.files[0].parents[1]
    dropped.close()
    assert not room.exists()


def test_ways_are_taken_as_they_are_printed() -> None:
    problem = Problem("f", "", "", "", "", """say --word "a; b=new" or --word "a; b=ignore"; or --condition new""")
    ways = telling.ways(problem)
    assert ways == ['--word "a; b=new"', '--word "a; b=ignore"', "--condition new"]
    other = Problem(
        "f", "", "", "", "", "say what all of it is: --condition salvage (or new, refurbished); or write it"
    )
    assert telling.ways(other) == ["--condition salvage", "--condition new", "--condition refurbished"]
    told = telling.told_by(["--word", "a; b=new", "--condition", "new", "--supplier", "x", "--pack", "box=4"])
    assert (told.words, told.condition, told.supplier, told.packs) == ({"a; b": "new"}, "new", "x", {"box": "4"})


@pytest.mark.parametrize(
    "options",
    [
        ["--accept", "x"],
        ["--word"],
        ["word", "x"],
        ["--condition", "shiny"],
        ["--condition", "new", "--condition", "salvage"],
        ["--supplier", "a", "--supplier", "b"],
        ["--pack", "x=0"],
        ["--map", "x"],
    ],
)
def test_options_that_say_nothing_are_refused(options: list[str]) -> None:
    with pytest.raises(WordsError):
        telling.told_by(options)


def test_what_a_shop_said_is_shown_as_a_sheet_of_its_own_and_taken_in(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    part = a_part(live)
    told = {"part": part, "supplier": "Pebble, the chandler", "condition": "new", "price": "29", "postage": "4.50"}
    answer = browser.post("/sheets/told", page="/sheets", **told)
    path = answer.headers["location"]
    page = browser.get(path)
    assert "To settle first" not in page
    assert "29.00" in said(page)
    answer = browser.post(path, page=path, what="accept")
    quote = next(quote for quote in live.now().job.quotes if quote.supplier == "pebble-the-chandler")
    assert (quote.part, quote.condition, quote.price_minor) == (part, "new", 2900)
    terms = next(one for one in live.now().job.suppliers if one.id == "pebble-the-chandler")
    assert terms.postage_minor == 450


def test_one_price_told_ends_no_other_of_that_shop(shop: tuple[Live, Browser]) -> None:
    """But an older one for the same."""
    live, browser = shop
    first, second = sorted(live.now().job.titles_of_parts)[:2]
    for part, price in ((first, "29"), (second, "28"), (first, "27")):
        told = {"part": part, "supplier": "Pebble", "condition": "new", "price": price}
        path = browser.post("/sheets/told", page="/sheets", **told).headers["location"]
        assert browser.post(path, page=path, what="accept").status_code == 303
    job = live.now().job
    day = job.settings.today or live.clock.today()
    quotes = [q for q in job.quotes if q.supplier == "pebble" and (q.valid_until is None or q.valid_until >= day)]
    assert sorted((q.part, q.price_minor) for q in quotes) == sorted([(first, 2700), (second, 2800)])


@pytest.mark.parametrize("lacks", ["part", "supplier", "price", "condition"])
def test_of_what_a_shop_said_nothing_is_made_up(shop: tuple[Live, Browser], lacks: str) -> None:
    live, browser = shop
    told = {"part": a_part(live), "supplier": "Pebble", "condition": "new", "price": "29"} | {lacks: ""}
    answer = browser.post("/sheets/told", page="/sheets", **told)
    assert answer.status_code == 422
    assert "Fill in" in said(answer.text)


def test_ways_are_offered_in_words_and_another_part_can_be_chosen(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    part, other = list(live.now().job.titles_of_parts)[:2]
    sheet = f"part;condition;price;P&P\n{part} assy;new;31.00;4.00\nwidget of theirs;new;2.00;\n".encode()
    _, path = drop(browser, ("alderfold.csv", sheet))
    page = browser.get(path)
    assert labels(page) == [
        f'"{part} assy" is: {part}',
        f'"{part} assy" changes nothing: leave it out',
        "leave it open",
    ]
    chosen = {f"part:{part} assy": other, "part:widget of theirs": part}
    assert browser.post(path, page=path, **chosen).status_code == 303
    page = browser.get(path)
    assert "2 quotes understood" in said(page)
    assert 'the heading "P&P" means: postage' in labels(page)


def test_a_rate_of_tax_is_a_field_of_its_own(shop: tuple[Live, Browser]) -> None:
    """Twenty percent is offered by a tap, and is no more than the commonest."""
    live, browser = shop
    part = next(iter(live.now().job.titles_of_parts))
    sheet = f"part,condition,price ex VAT\n{part},new,100.00\n".encode()
    _, path = drop(browser, ("alderfold.csv", sheet))
    page = browser.get(path)
    assert 'name="rate-0"' in page
    twenty = next(way for way in re.findall(r'name="doubt-0" value="([^"]*)"', page) if "--ex-tax 20" in way)
    assert browser.post(path, page=path, **{"doubt-0": twenty, "rate-0": "19 %"}).status_code == 303
    assert "119.00" in said(browser.get(path))


def labels(page: str) -> list[str]:
    return [said(label) for label in re.findall(r'(?s)<label class="tickbox">.*?</label>', page)]


def test_a_picture_is_no_doubt_to_settle_and_can_be_left_out(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    sheet = f"part,supplier,condition,price\n{a_part(live)},alderfold,new,31.00\n".encode()
    _, path = drop(browser, ("prices.jpg", b"\x89PNG\r\n\x1a\n"), ("alderfold.csv", sheet))
    page = browser.get(path)
    assert "Settle it so" not in page
    assert "/sheets#told" in page
    assert browser.post(path, page=path, what="without", file="prices.jpg").status_code == 303
    assert "Take it into the job" in browser.get(path)
    assert browser.post(path, page=path, what="without", file="alderfold.csv").headers["location"] == "/sheets"


def test_whose_a_sheet_is_may_be_said_in_a_field(shop: tuple[Live, Browser]) -> None:
    live, browser = shop
    sheet = f"Item;Our price inc VAT;State\n{a_part(live)};22.50;new\n".encode()
    _, path = drop(browser, ("shop.csv", sheet))
    page = said(browser.get(path))
    assert "1 quote understood from shop" in page
    assert "if that is not so, write above whose it is" in page
    assert "THEIR-NAME" not in page
    refused = browser.post(path, page=path, what="whose", form="whose", supplier=" ")
    assert refused.status_code == 422
    for name, slug in (("Bay Street Marine", "bay-street-marine"), ("Bay = Marine", "bay-marine")):
        assert browser.post(path, page=path, what="whose", form="whose", supplier=name).status_code == 303
        assert f"1 quote understood from {slug}" in said(browser.get(path))
