"""Taking accepted sheets out of the job again: exactly what stood before, never over what a hand has changed since."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from optimiser import files
from optimiser.errors import CallError, InputError, RecordInUseError
from optimiser.quote_import import Told, accept, register, taken_in, turn_back, understand
from tests.unit.quote_import.accepting import DAY, LATER, files_in, standing
from tests.unit.quote_import.conftest import GBP, KNOWN

ROOT = Path(__file__).parents[3]
HEAD = "part,condition,price\n"
OLD = HEAD + "front disc,new,25.00\nrear shoe,new,10\n"
NEW = HEAD + "front disc,new,27.00\n"
FIRST, SECOND = "quotes/oddlode-2026-11-24.csv", "quotes/oddlode-2026-12-01.csv"
MOSSBACK = Told(supplier="mossback")


def state(folder):
    """All that stands in the job: its sheets and terms to the byte, and what is kept of suppliers' sheets."""
    sheets = {name: (folder / "quotes" / name).read_bytes() for name in files_in(folder) if name.endswith(".csv")}
    terms = folder / "suppliers.csv"
    return sheets, terms.read_bytes() if terms.exists() else None, register.read(folder)


def everything(folder):
    """Every byte below the folder."""
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def refused(folder, *words, **how):
    """The error of a call that is refused; it changes nothing."""
    before = everything(folder)
    with pytest.raises(CallError) as caught:
        turn_back(folder, *words, **how)
    assert everything(folder) == before
    return caught.value


@pytest.fixture
def twice(folder, take):
    """A job that took in a sheet and a newer one, which ended its quotes: what stood before each and at the end."""
    (folder / "suppliers.csv").write_bytes("supplier,title,postage\r\noddlode,Öddlode,\r\n".encode())
    states = [state(folder)]
    take(OLD)
    states.append(state(folder))
    take(
        NEW.replace("price", "net price,P&P").replace("27.00", "27.00,4.50"),
        LATER,
        told=Told(supplier="oddlode", ex_tax="20", columns={"P&P": "postage"}),
    )
    states.append(state(folder))
    return states


@pytest.fixture
def newer(folder, twice):
    """The job that took in a sheet and a newer one."""
    assert state(folder) == twice[2]
    return folder


def test_exactly_what_stood_before_and_back(folder, twice):
    assert standing(folder, LATER) == [("front-disc", 3240, SECOND)]
    assert b",4.50" in twice[2][1]
    assert twice[2][2].suppliers["oddlode"].ex_tax == "20"
    assert turn_back(folder).sheets == (SECOND,)
    assert state(folder) == twice[1]
    assert standing(folder, LATER) == [("front-disc", 2500, FIRST), ("rear-shoe", 1000, FIRST)]
    assert turn_back(folder).sheets == (FIRST,)
    assert state(folder) == twice[0]
    assert "is there to take out" in refused(folder).found
    for sheet, stands in ((FIRST, twice[1]), (SECOND, twice[2])):
        back = turn_back(folder, put_back=True)
        assert (back.sheets, back.put_back) == ((sheet,), True)
        assert state(folder) == stands
    assert "No sheet was taken out" in refused(folder, put_back=True).found


def test_what_was_taken_out_can_be_taken_in_anew(newer, take):
    turn_back(newer)
    assert take(NEW, LATER).sheet == SECOND
    assert standing(newer, LATER) == [("front-disc", 2700, SECOND)]
    for name in ((), (SECOND,)):
        assert refused(newer, *name, put_back=True).found == f"{SECOND} is in the job already."


def test_a_clean_sheet_is_named_by_its_file(newer):
    for name in (SECOND, str(newer / SECOND), Path(SECOND).name):
        assert turn_back(newer, name).sheets == (SECOND,)
        assert f"{SECOND} is taken out already." in refused(newer, name).found
        assert turn_back(newer, name, put_back=True).sheets == (SECOND,)
        assert f"{SECOND} is in the job already." in refused(newer, name, put_back=True).found
    assert "not kept" in refused(newer, "quotes/mine.csv").found


def test_what_the_same_supplier_sent_after_it_goes_first(newer):
    error = refused(newer, FIRST)
    assert f"{SECOND} was taken in after {FIRST}" in error.found
    assert error.mend == f"Take that out first: optimiser quotes {SECOND} --take-out"
    turn_back(newer, SECOND)
    turn_back(newer, FIRST)
    error = refused(newer, SECOND, put_back=True)
    assert error.mend == f"Put that back first: optimiser quotes {FIRST} --put-back"


def test_what_was_taken_in_instead_goes_before_the_other_comes_back(folder, twice, take):
    """The second was taken out and a third taken in: one of them can stand, and the quotes of neither double."""
    turn_back(folder)
    third = take(NEW.replace("27", "28"), LATER, name="oddlode autumn.csv").sheet
    error = refused(folder, SECOND, put_back=True)
    assert f"{third} was taken in after {SECOND}" in error.found
    assert error.mend == f"Take that out first: optimiser quotes {third} --take-out"
    turn_back(folder)
    turn_back(folder, SECOND, put_back=True)
    assert state(folder) == twice[2]
    error = refused(folder, third, put_back=True)
    assert f"{SECOND} was taken in after {third}" in error.found


def test_what_is_kept_and_broken_keeps_no_sheet_out(folder, take):
    take(OLD)
    kept(folder, 1).write_text("{")
    take(NEW, LATER)
    assert turn_back_raises(folder).problems[0].file == "quotes/before/1.json"
    kept(folder, 1).unlink()
    turn_back(folder)
    assert standing(folder, LATER) == [("front-disc", 2500, FIRST), ("rear-shoe", 1000, FIRST)]


def turn_back_raises(folder):
    with pytest.raises(InputError) as caught:
        turn_back(folder)
    return caught.value


def test_another_supplier_is_left_alone(folder, take):
    take(OLD)
    take(OLD, told=MOSSBACK, name="mossback.csv")
    turn_back(folder, FIRST)
    theirs = "mossback-2026-11-24.csv"
    assert standing(folder, DAY) == [
        (part, price, f"quotes/{theirs}") for part, price in [("front-disc", 2500), ("rear-shoe", 1000)]
    ]
    assert list(register.read(folder).sheets) == [theirs]


def test_two_that_wrote_one_file_are_taken_out_the_later_first(folder, take):
    """Postage of two suppliers stands in the one file of their terms."""
    with_postage = HEAD.replace("price", "price,P&P") + "front disc,new,25,4.00\n"
    for supplier in ("oddlode", "mossback"):
        told = Told(supplier=supplier, columns={"P&P": "postage"})
        take(with_postage, name=f"{supplier}.csv", told=told)
    assert "into the same file" in refused(folder, FIRST).found
    turn_back(folder)
    turn_back(folder)
    assert not (folder / "suppliers.csv").exists()


def test_postage_said_of_a_sheet_that_is_in_is_taken_out_and_put_back_alone(folder, take):
    sheet = HEAD.replace("price", "price,P&P") + "front disc,new,25,4.00\n"
    take(sheet, told=Told(supplier="oddlode", columns={"P&P": "ignore"}))
    without = state(folder)
    take(sheet, told=Told(supplier="oddlode", columns={"P&P": "postage"}))
    said = state(folder)
    assert said[0] == without[0]
    assert said[1].endswith(b"oddlode,4.00\n")
    assert turn_back(folder, FIRST).still
    assert state(folder) == without
    assert not turn_back(folder, FIRST, put_back=True).still
    assert state(folder) == said


def test_what_was_settled_of_a_sheet_that_is_in_is_taken_out_alone(folder, take):
    take(OLD)
    before = state(folder)
    take(OLD.replace("front disc", "FD"), told=Told(supplier="oddlode", parts={"FD": "front-disc"}))
    assert register.read(folder).suppliers
    assert turn_back(folder).still
    assert state(folder) == before
    assert not turn_back(folder).still
    assert standing(folder, DAY) == []


def test_all_sheets_of_one_call_go_together(folder, tmp_path):
    sheets = []
    for supplier in ("oddlode", "mossback"):
        path = tmp_path / f"{supplier}.csv"
        path.write_text(OLD)
        sheets.append(understand(path, KNOWN, Told(supplier=supplier)))
    accept(folder, sheets, GBP, DAY)
    assert len(turn_back(folder, "mossback-2026-11-24.csv").sheets) == 2
    assert standing(folder, DAY) == []


def test_a_sheet_that_was_changed_since_is_not_taken_out(folder, twice):
    path = folder / SECOND
    path.write_text(path.read_text().replace("32.40", "31.00"))
    error = refused(folder)
    assert error.found == f"{SECOND} was changed since: nothing was taken out."
    assert f"take {SECOND} out by hand" in error.mend
    path.unlink()
    turn_back(folder)
    assert state(folder) == twice[1]


@pytest.mark.parametrize("file", [FIRST, "suppliers.csv"])
def test_nothing_is_written_over_what_a_hand_has_changed(folder, twice, file):
    path = folder / file
    was = path.read_bytes()
    path.write_bytes(was + b"# mine\n")
    error = refused(folder)
    assert error.found == f"{file} was changed since: nothing was taken out."
    assert "quotes/before/2.json holds it" in error.mend
    path.unlink()
    assert f"{file} is gone since" in refused(folder).found
    path.write_bytes(was)
    turn_back(folder)
    assert state(folder) == twice[1]


def test_what_vanished_is_taken_out_already(folder, twice):
    (folder / SECOND).unlink()
    turn_back(folder)
    assert state(folder) == twice[1]


def test_a_new_file_of_that_name_is_not_written_over(newer):
    turn_back(newer)
    (newer / SECOND).write_text("part,supplier,condition,price\n")
    assert refused(newer, put_back=True).found == f"{SECOND} was changed since: nothing was taken in."


def test_what_was_settled_since_stays_and_is_told(newer):
    kept = newer / "quotes" / register.FILE
    kept.write_text(kept.read_text().replace('ex_tax = "20"', 'ex_tax = "19"'))
    assert turn_back(newer).stay == ("oddlode",)
    assert register.read(newer).suppliers["oddlode"].ex_tax == "19"


def test_a_sheet_taken_in_again_unchanged_is_one_acceptance(folder, take):
    take(OLD)
    take(OLD)
    assert [each.sheets for each in taken_in(folder)] == [(FIRST,)]
    turn_back(folder)
    assert [each.stands for each in taken_in(folder)] == [False]
    assert files_in(folder) == ["before/1.json", register.FILE]


@pytest.mark.parametrize("planted", ["quotes", "quotes/before", "quotes/intake.toml", SECOND, FIRST])
def test_links_are_not_followed(newer, tmp_path, planted):
    theirs = tmp_path / "theirs"
    (newer / planted).rename(theirs)
    (newer / planted).symlink_to(theirs)
    before = everything(tmp_path)
    with pytest.raises(CallError):
        turn_back(newer)
    assert everything(tmp_path) == before
    assert (newer / planted).is_symlink()


def kept(folder, number=2):
    return folder / "quotes" / "before" / f"{number}.json"


@pytest.mark.parametrize(
    "path",
    ["job.toml", "quotes/../job.toml", "../theirs.csv", "/etc/theirs.csv", "quotes/intake.toml", "quotes/.x.csv",
     "quotes/a/b.csv", "quotes/a\\b.csv", "quotes/a\n.csv"],
)  # fmt: skip
def test_a_folder_that_came_by_mail_names_no_other_file(newer, path):
    head, wrought = map(json.loads, kept(newer).read_text().splitlines())
    wrought["files"][path] = {"before": "mine", "after": None}
    kept(newer).write_text(f"{json.dumps(head)}\n{json.dumps(wrought)}\n")
    before = everything(newer.parent)
    with pytest.raises(InputError) as caught:
        turn_back(newer)
    assert caught.value.problems[0].file == "quotes/before/2.json"
    assert everything(newer.parent) == before


BROKEN = ("", "{", "[]", "{}\n{}", "null", "\0" * 9, '{"sheets": []}', "9" * 9999, "[" * 9999)


def test_what_is_kept_and_broken_is_said(newer):
    whole = kept(newer).read_text().splitlines()
    for text in (*BROKEN, *(f"{whole[0]}\n{broken}" for broken in BROKEN)):
        kept(newer).write_text(text)
        with pytest.raises(InputError) as caught:
            turn_back(newer)
        (problem,) = caught.value.problems
        assert problem.file == "quotes/before/2.json"
        assert "move it away" in problem.mend
    kept(newer).unlink()
    assert [each.sheets for each in taken_in(newer)] == [(FIRST,)]


def test_settings_that_are_none_are_refused(newer):
    head, wrought = map(json.loads, kept(newer).read_text().splitlines())
    for text in ("[supplier.x]\ncondition = 'odd'", "sheet = 3", "[sheet.x]\noriginal = 1", "supplier = [1]", "["):
        wrought["settled"]["before"] = text
        kept(newer).write_text(f"{json.dumps(head)}\n{json.dumps(wrought)}\n")
        with pytest.raises(InputError):
            turn_back(newer)


def test_a_pipe_does_not_hang_us(newer):
    (newer / SECOND).unlink()
    os.mkfifo(newer / SECOND)
    with pytest.raises(CallError, match="was changed"):
        turn_back(newer)


@pytest.mark.parametrize("put_back", [False, True])
@pytest.mark.parametrize("allowed", range(4))
def test_a_call_that_was_broken_off_is_finished_by_the_same(folder, twice, broken_after, put_back, allowed):
    """Whichever file the disk fails at, the same call comes to the same end."""
    if put_back:
        turn_back(folder)
    broken_after(allowed, lambda: turn_back(folder, put_back=put_back))
    assert not list((folder / "quotes").rglob("*.unfinished"))
    turn_back(folder, SECOND, put_back=put_back)
    assert state(folder) == twice[2 if put_back else 1]


@pytest.mark.parametrize("allowed", range(1, 4))
def test_what_was_broken_off_while_it_was_taken_in_is_taken_out(folder, take, broken_after, allowed):
    take(OLD)
    before = state(folder)
    broken_after(allowed, lambda: take(NEW, LATER, told=Told(supplier="oddlode", ex_tax="20")))
    turn_back(folder, SECOND)
    assert state(folder) == before


def test_a_full_disk_leaves_everything_as_it_was(newer, monkeypatch):
    opened = Path.open

    def full(path, mode="r", *rest, **how):
        if mode == "xb":
            raise OSError(28, "No space left on device")
        return opened(path, mode, *rest, **how)

    before = everything(newer)
    with monkeypatch.context() as patched:
        patched.setattr(Path, "open", full)
        with pytest.raises(CallError, match="No space"):
            turn_back(newer)
    assert everything(newer) == before


def test_the_wait_for_another_ends(folder, twice, monkeypatch):
    monkeypatch.setattr(register, "WAIT_SECONDS", 0.1)
    with files.held(folder / "quotes", 0), pytest.raises(RecordInUseError, match="taking sheets in"):
        turn_back(folder)
    assert state(folder) == twice[2]


AT_ONCE = """
import sys
from datetime import date
from pathlib import Path
from optimiser.errors import CallError
from optimiser.quote_import import Told, accept, turn_back, understand
from tests.unit.quote_import.conftest import GBP, KNOWN
folder, name = Path(sys.argv[1]), sys.argv[2]
sheet = name.endswith("mossback.csv") and understand(Path(name), KNOWN, Told(supplier="mossback"))
print("ready", flush=True)
sys.stdin.readline()
try:
    accept(folder, [sheet], GBP, date(2026, 11, 24)) if sheet else turn_back(folder, name)
except CallError as error:
    sys.exit(error.found)
"""


@pytest.mark.long
def test_two_at_once_lose_nothing(folder, tmp_path, take):
    """Three that begin together: two take one sheet out, of which one does, while a third takes another in."""
    theirs = tmp_path / "mossback.csv"
    for turn in range(3):
        sheet = take(OLD.replace("25.00", f"{25 + turn}"), name=f"oddlode-{turn}.csv").sheet
        theirs.write_text(f"part,condition,price,ref\nfront disc,new,{25 + turn},R-{turn}\n")
        calls = [
            subprocess.Popen(
                [sys.executable, "-c", AT_ONCE, str(folder), name],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT,
            )
            for name in (sheet, sheet, str(theirs))
        ]  # fmt: skip
        for call in calls:
            assert call.stdout.readline() == b"ready\n"
        for call in calls:
            call.stdin.write(b"\n")
            call.stdin.flush()
        said = [call.communicate()[1].decode() for call in calls]
        assert sorted(call.returncode for call in calls) == [0, 0, 1], said
        assert any("is taken out already" in line for line in said[:2])
        assert standing(folder, DAY) == [("front-disc", 2500 + 100 * turn, f"quotes/{newest(folder)}")]
        stands = {
            each.suppliers: {one.stands for one in taken_in(folder) if one.suppliers == each.suppliers}
            for each in taken_in(folder)
        }
        assert stands == {("oddlode",): {False}, ("mossback",): {True}}


def newest(folder):
    """The clean sheet that was written last; no other supplier's is kept."""
    names = list(register.read(folder).sheets)
    assert {name.split("-")[0] for name in names} == {"mossback"}
    return max(names, key=lambda name: (len(name), name))
