"""What accepting a sheet writes, what it ends, and what it never touches."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from optimiser import files, job_folder
from optimiser.errors import CallError, InputError, RecordInUseError
from optimiser.model.imports import How
from optimiser.quote_import import (
    Happened,
    Known,
    Told,
    accept,
    changes,
    clean_sheet,
    register,
    understand,
)
from tests.unit.quote_import.accepting import DAY, LATER, ODDLODE, files_in, standing
from tests.unit.quote_import.conftest import GBP, KNOWN

ROOT = Path(__file__).parents[3]
HEAD = "part,condition,price,pack,ref\n"


def test_a_clean_sheet_is_written_and_the_job_reads_it(folder, take):
    answer = take(HEAD + "Front brake disc,recon,£12.50,2,R-1\nrear shoe,used,5,,\n")
    assert answer.sheet == "quotes/oddlode-2026-11-24.csv"
    assert answer.rows == 2
    assert (folder / answer.sheet).read_text().splitlines() == [
        ",".join(clean_sheet.COLUMNS),
        "front-disc,oddlode,refurbished,12.50,2,,,,,,,,GBP,R-1,",
        "rear-shoe,oddlode,salvage,5.00,1,,,,,,,,GBP,,",
    ]
    assert [change.what for change in answer.changes] == [Happened.NEW, Happened.NEW]
    assert standing(folder, DAY) == [("front-disc", 1250, answer.sheet), ("rear-shoe", 500, answer.sheet)]
    assert files_in(folder) == ["before/1.json", register.FILE, "oddlode-2026-11-24.csv"]


def test_a_newer_quote_takes_the_place_of_the_older(folder, take):
    take(HEAD + "front disc,new,25.00,1,R-1\nrear shoe,new,10,1,\n", name="oddlode spring.csv")
    answer = take(HEAD + "front disc,new,27.00,1,R-1\nfront disc,new,52.00,2,R-1\n", LATER, "oddlode autumn.csv")
    up, new, gone = answer.changes
    assert (up.what, up.before_minor, up.after_minor, up.ended) == (Happened.CHANGED, 2500, 2700, True)
    assert up.percent == pytest.approx(8.0)
    assert (new.what, new.key) == (Happened.NEW, ("oddlode", "front-disc", "new", 2, "R-1"))
    assert (gone.what, gone.key[1], gone.ended) == (Happened.GONE, "rear-shoe", False)
    prices = [(part, price) for part, price, _ in standing(folder, LATER)]
    assert prices == [("front-disc", 2700), ("front-disc", 5200), ("rear-shoe", 1000)]
    lapsed = [quote for quote in job_folder.job(folder, LATER).quotes if quote.valid_until == date(2026, 11, 30)]
    assert [(quote.price_minor, quote.note) for quote in lapsed] == [(2500, "newer quote of 2026-12-01")]


@pytest.mark.parametrize(("name", "how"), [("oddlode 2026-12.csv", {}), ("autumn.csv", {"whole": True})])
def test_a_newer_edition_or_the_whole_offer_ends_what_it_no_longer_holds(folder, take, name, how):
    take(HEAD + "front disc,new,25.00,1,\nrear shoe,new,10,1,\n", name="oddlode 2026-11.csv")
    answer = take(HEAD + "front disc,new,25.00,1,\n", LATER, name, **how)
    assert [(change.what, change.ended) for change in answer.changes] == [(Happened.SAME, True), (Happened.GONE, True)]
    assert standing(folder, LATER) == [("front-disc", 2500, answer.sheet)]


def test_another_suppliers_quotes_are_left_alone(folder, take):
    take(HEAD + "front disc,new,25.00,1,\n", told=Told(supplier="mossback"))
    answer = take(HEAD + "rear shoe,new,25.00,1,\n", LATER, whole=True)
    assert [change.what for change in answer.changes] == [Happened.NEW]
    assert len(standing(folder, LATER)) == 2


def test_what_a_row_said_of_its_last_day_is_not_lost(folder, take):
    sheet = "part,condition,price,valid until,note\nfront disc,new,25,31/12/2026,ask for Ann\n"
    first = take(sheet)
    take(sheet.replace("25,", "26,"), LATER)
    (row,) = clean_sheet.standing((folder / first.sheet).read_bytes())
    assert row.cells["valid_until"] == "2026-11-30"
    assert row.cells["note"] == "ask for Ann; newer quote of 2026-12-01; was valid until 2026-12-31"


def test_lapsed_rows_change_no_more(folder, take):
    first = take("part,condition,price,valid until\nfront disc,new,25,2026-11-25\n")
    before = (folder / first.sheet).read_bytes()
    answer = take("part,condition,price\nfront disc,new,26\n", LATER)
    assert [change.what for change in answer.changes] == [Happened.NEW]
    assert (folder / first.sheet).read_bytes() == before


def test_the_persons_own_sheets_are_never_touched(folder, take):
    own = "part,supplier,condition,price\nfront-disc,oddlode,new,24.00\n"
    (folder / "quotes").mkdir()
    for name in ("quotes.csv", "quotes/mine.csv"):
        (folder / name).write_text(own)
    answer = take("part,condition,price\nfront disc,new,26\n", whole=True)
    assert [(change.what, change.ended, change.yours) for change in answer.changes] == [
        (Happened.CHANGED, False, True)
    ] * 2
    assert {change.sheet for change in answer.changes} == {"quotes.csv", "mine.csv"}
    for name in ("quotes.csv", "quotes/mine.csv"):
        assert (folder / name).read_text() == own


def test_a_clean_sheet_that_somebody_changed_is_theirs_from_then_on(folder, take):
    first = take("part,condition,price\nfront disc,new,25\n")
    changed = (folder / first.sheet).read_text().replace("25.00", "24.00")
    (folder / first.sheet).write_text(changed)
    answer = take("part,condition,price\nfront disc,new,26\n", LATER)
    assert [(change.before_minor, change.yours, change.ended) for change in answer.changes] == [(2400, True, False)]
    assert (folder / first.sheet).read_text() == changed


def test_a_name_that_is_taken_is_left_to_its_owner(folder, take):
    (folder / "quotes").mkdir()
    theirs = folder / "quotes/oddlode-2026-11-24.csv"
    theirs.write_text("part,supplier,condition,price\n")
    assert take("part,condition,price\nfront disc,new,26\n").sheet == "quotes/oddlode-2026-11-24-2.csv"
    assert theirs.read_text() == "part,supplier,condition,price\n"


def test_the_same_sheet_twice_in_a_day_writes_nothing_more(folder, take):
    sheet = "part,condition,price\nfront disc,new,25\n"
    first = take(sheet)
    before = [(name, (folder / "quotes" / name).read_bytes()) for name in files_in(folder)]
    second = take(sheet)
    assert second.sheet == first.sheet
    assert [change.what for change in second.changes] == [Happened.SAME]
    assert [(name, (folder / "quotes" / name).read_bytes()) for name in files_in(folder)] == before
    third = take(sheet.replace("25", "26"))
    assert third.sheet == "quotes/oddlode-2026-11-24-2.csv"
    assert [price for _, price, _ in standing(folder, DAY)] == [2600]


def test_nothing_is_taken_in_with_a_doubt_or_without_a_quote(folder, take):
    with pytest.raises(InputError) as caught:
        take("part,condition,price\nfront disc,new,1.234\nrear shoe,new,5\n")
    assert caught.value.problems[0].key == "price"
    with pytest.raises(CallError):
        take("part,condition,price\nfront disc,new,POA\n")
    assert not (folder / "quotes").exists()


def test_what_was_settled_holds_for_the_suppliers_next_sheet(folder, take):
    sheet = "part,condition,trade price,your price,supplier\nFD,,1.300,1.234,Oddlode\n"
    told = Told(columns={"Your price": "price"}, decimal=",", ex_tax="20", condition="new", parts={"FD": "front-disc"})
    take(sheet, told=told)
    settled = register.read(folder).suppliers["oddlode"]
    assert settled == told
    path = folder / "next.csv"
    path.write_text(sheet)
    again = understand(path, KNOWN, kept=register.read(folder).suppliers)
    (said,) = (text for text in again.cautions if "earlier" in text)
    assert [(heading.text, heading.how) for heading in again.headings if heading.how is How.KEPT] == [
        ("your price", How.KEPT)
    ]
    settled_there = ("Your price", "a comma", "20", "new", "FD")
    assert all(f'"{word}"' in said or f"is {word}" in said for word in settled_there), said
    answer = take(sheet.replace("1.234", "1.111"), LATER, told=Told())
    assert [change.after_minor for change in answer.changes] == [133320]
    take("part,condition,price\nrear shoe,new,5\n", LATER, "oddlode 2.csv", told=Told())
    assert register.read(folder).suppliers["oddlode"] == told


def test_what_a_sheet_had_no_use_for_is_not_kept(folder, take):
    """It was told for another sheet of the same call."""
    told = Told(supplier="oddlode", ex_tax="20", condition="salvage", parts={"FD": "front-disc", "RS": "rear-shoe"})
    take("part,condition,price inc vat\nFD,new,25\n", told=told)
    assert register.read(folder).suppliers == {"oddlode": Told(parts={"FD": "front-disc"})}


def test_all_sheets_of_a_call_are_put_in_place_or_none(folder, tmp_path, monkeypatch):
    path = tmp_path / "oddlode.csv"
    path.write_text("part,condition,price\nfront disc,new,25\n")
    one = understand(path, KNOWN, ODDLODE)
    two = understand(path, KNOWN, Told(supplier="mossback"))
    opened, left = Path.open, 2

    def full(path, mode="r", *rest, **how):
        nonlocal left
        if mode == "xb":
            left -= 1
            if left < 0:
                raise OSError(28, "No space left on device")
        return opened(path, mode, *rest, **how)

    monkeypatch.setattr(Path, "open", full)
    with pytest.raises(CallError, match="No space"):
        accept(folder, [one, two], GBP, DAY)
    assert files_in(folder) == []
    left = 10
    taken = accept(folder, [one, two], GBP, DAY)
    assert [each.sheet for each in taken] == ["quotes/oddlode-2026-11-24.csv", "quotes/oddlode-2026-11-24-2.csv"]
    assert standing(folder, DAY) == [("front-disc", 2500, each.sheet) for each in sorted(taken, key=lambda e: e.sheet)]


def test_the_second_sheet_of_a_call_takes_the_place_of_the_first(folder, tmp_path):
    """As it would in two calls, and said beforehand too."""
    sheets = []
    for name, price in (("oddlode.csv", "25"), ("oddlode 2.csv", "27")):
        path = tmp_path / name
        path.write_text(f"part,condition,price\nfront disc,new,{price}\n")
        sheets.append(understand(path, KNOWN, ODDLODE))
    told = changes(folder, sheets, GBP, DAY)
    assert not (folder / "quotes").exists()
    assert told == tuple(each.changes for each in accept(folder, sheets, GBP, DAY))
    assert [[(one.what, one.before_minor, one.after_minor) for one in each] for each in told] == [
        [(Happened.NEW, None, 2500)],
        [(Happened.CHANGED, 2500, 2700)],
    ]
    assert [price for _, price, _ in standing(folder, DAY)] == [2700]


def test_keep_nothing(folder, take):
    take("part,condition,price\nfront disc,new,25\n", told=Told(supplier="oddlode", ex_tax="20"), keep=False)
    assert register.read(folder).suppliers == {}


def test_the_supplier_alone_is_nothing_to_keep(folder, take):
    take("part,condition,price\nfront disc,new,25\n")
    assert register.read(folder).suppliers == {}


def test_a_call_that_was_broken_off_is_finished_by_the_next(folder, take, broken_after):
    """The record of our sheets goes first, the new sheet next: whichever fails, no sheet of ours is orphaned."""
    take("part,condition,price\nfront disc,new,25\n", name="oddlode a.csv")
    for allowed in (0, 1, 2):
        broken_after(allowed, lambda: take("part,condition,price\nfront disc,new,26\n", LATER, "oddlode a.csv"))
        assert not list((folder / "quotes").glob(".*"))
        job_folder.job(folder, LATER)
    take("part,condition,price\nfront disc,new,26\n", LATER, "oddlode a.csv")
    assert [price for _, price, _ in standing(folder, LATER)] == [2600]


@pytest.mark.parametrize("planted", [".intake.toml.unfinished", ".oddlode-2026-11-24.csv.unfinished", "oddlode-2026-11-24.csv"])  # noqa: E501 # fmt: skip
def test_nothing_is_written_through_a_planted_link(folder, take, tmp_path, planted):
    theirs = tmp_path / "theirs"
    theirs.write_text("dear diary")
    (folder / "quotes").mkdir()
    (folder / "quotes" / planted).symlink_to(theirs)
    answer = take("part,condition,price\nfront disc,new,25\n")
    assert theirs.read_text() == "dear diary"
    assert (folder / "quotes" / planted).is_symlink()
    assert not (folder / answer.sheet).is_symlink()


@pytest.mark.parametrize("planted", ["quotes", "quotes/intake.toml"])
def test_a_link_out_of_the_folder_is_refused(folder, take, tmp_path, planted):
    theirs = tmp_path / "theirs"
    (folder / planted).parent.mkdir(exist_ok=True)
    if planted == "quotes":
        theirs.mkdir()
    else:
        theirs.write_text("")
    (folder / planted).symlink_to(theirs)
    with pytest.raises(CallError, match="out of the job's folder"):
        take("part,condition,price\nfront disc,new,25\n")
    assert (folder / planted).is_symlink()
    assert list(theirs.iterdir()) == [] if planted == "quotes" else theirs.read_text() == ""


def test_a_pipe_among_the_sheets_does_not_hang_us(folder, take):
    take("part,condition,price\nfront disc,new,25\n")
    (ours,) = (folder / "quotes").glob("*.csv")
    ours.unlink()
    os.mkfifo(ours)
    assert take("part,condition,price\nfront disc,new,26\n", LATER).rows == 1


ACCEPTING = """
import sys
from datetime import date
from pathlib import Path
from optimiser.quote_import import Told, accept, understand
from tests.unit.quote_import.conftest import GBP, KNOWN
folder, name = map(Path, sys.argv[1:])
sheet = understand(name, KNOWN, Told(supplier="oddlode"))
print("ready", flush=True)
sys.stdin.readline()
accept(folder, [sheet], GBP, date(2026, 11, 24))
"""


@pytest.mark.long
def test_two_that_take_in_at_once_both_do(folder, tmp_path):
    """Three times over: each clean sheet is registered, and no quote stands twice."""
    for turn in range(3):
        calls = []
        for place in range(2):
            path = tmp_path / f"sheet-{turn * 2 + place}.csv"
            path.write_text(f"part,condition,price,ref\nfront disc,new,{25 + turn},R-{place}\n")
            words = [sys.executable, "-c", ACCEPTING, str(folder), str(path)]
            calls.append(subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT))
        for call in calls:
            assert call.stdout.readline() == b"ready\n"
        for call in calls:
            call.stdin.write(b"\n")
            call.stdin.flush()
        assert [call.communicate()[0] is not None and call.returncode for call in calls] == [0, 0]
        assert set(register.read(folder).sheets) == {path.name for path in (folder / "quotes").glob("*.csv")}
        assert [price for _, price, _ in standing(folder, DAY)] == [2500 + 100 * turn] * 2


def test_the_wait_for_another_ends(folder, take, monkeypatch):
    (folder / "quotes").mkdir()
    monkeypatch.setattr(register, "WAIT_SECONDS", 0.1)
    with files.held(folder / "quotes", 0), pytest.raises(RecordInUseError, match="taking sheets in"):
        take("part,condition,price\nfront disc,new,25\n")
    assert list((folder / "quotes").iterdir()) == []


def test_text_that_a_spreadsheet_would_run_is_neutral_and_comes_back(folder, take):
    answer = take('part,condition,price,ref,note\nfront disc,new,5,=cmd|x,"+44 1, ask; @home"\n')
    content = (folder / answer.sheet).read_text()
    assert "'=cmd|x" in content
    assert "'+44 1, ask;' @home" in content
    (row,) = clean_sheet.standing((folder / answer.sheet).read_bytes())
    assert (row.cells["ref"], row.cells["note"]) == ("=cmd|x", "+44 1, ask; @home")
    assert [change.what for change in take("part,condition,price,ref\nfront disc,new,5,=cmd|x\n", LATER).changes] == [
        "same"
    ]


@pytest.mark.parametrize(
    "broken",
    ["nonsense [", "[supplier.x]\ncondition = 'odd'", "[sheet.x]\noriginal = 1", "sheet = 3", "supplier = [1]"],
)
def test_a_broken_record_is_said_and_nothing_is_written(folder, take, broken):
    (folder / "quotes").mkdir()
    (folder / "quotes" / register.FILE).write_text(broken)
    with pytest.raises(InputError) as caught:
        take("part,condition,price\nfront disc,new,25\n")
    assert caught.value.problems[0].file == f"quotes/{register.FILE}"
    assert len(list((folder / "quotes").iterdir())) == 1


def test_names_with_anything_in_them_are_kept(folder):
    told = Told(columns={'He said "x" = \n[y]': "price", "Größe": "ignore"}, parts={"a.b": "front-disc"})
    sheet = register.CleanSheet('odd "name".xlsx', DAY, ("0" * 64,))
    whole = register.Register().with_told(["sup.plier", "Größe"], told).with_sheet("a b.csv", sheet)
    (folder / "quotes").mkdir()
    (folder / "quotes" / register.FILE).write_text(register.text(whole))
    assert register.read(folder) == whole


def test_what_the_job_knows(folder):
    (folder / "quotes.csv").write_text("part,supplier,condition,price\nwiper,thripple,new,5\n")
    known = Known.of(job_folder.job(folder, DAY))
    assert known.parts == {"wiper": "", "front-disc": "Front brake disc", "rear-shoe": "Rear brake shoe"}
    assert known.suppliers == {"thripple": ""}
