"""begin and add as a new user types them, and what they refuse."""

from __future__ import annotations

import json
import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser import cli, job_folder, patterns, starting
from optimiser.money import Currency
from optimiser.patterns import Wanted
from tests.unit.patterns.test_every_pattern import CATALOGUE, TODAY

Run = Callable[..., tuple[int, str, str]]
SIX = ("blower dead", "front brakes grind:front", "central locking dead on one door:front-left", "seat torn",
       "tailgate will not stay up", "tyre split:rear-left")  # fmt: skip


@pytest.fixture
def run(
    kept_for_all: None,  # noqa: ARG001
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> Run:
    monkeypatch.setattr("optimiser.starting.own_folder", lambda: tmp_path / "own")

    def call(*words: object) -> tuple[int, str, str]:
        code = cli.main([str(word) for word in words])
        said = capsys.readouterr()
        return code, said.out, said.err

    return call


def begun(run: Run, folder: Path, *faults: str) -> dict[str, object]:
    options = [word for fault in faults for word in ("--fault", fault)]
    code, out, err = run("begin", folder, "--pot", "1600", "--purchase", "1100", *options, "--json")
    assert (code, err) == (0, "")
    answer: dict[str, object] = json.loads(out)
    return answer


def test_six_faults_in_plain_words_can_be_planned_at_once(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "wagon"
    answer = begun(run, folder, *SIX)
    assert answer["written"] == ["job.toml", "quotes.csv", "suppliers.csv"]
    assert len(answer["faults"]) == len(SIX)  # type: ignore[arg-type]
    assert run("verify", folder)[0] == 0
    code, out, _ = run("plan", folder, "--json")
    plan = json.loads(out)
    assert code == 0
    assert plan["proven"]
    assert plan["expected_count"] > 3
    assert plan["quotes_to_get"]
    assert [q["in_doubt"] for q in plan["quotes_to_get"]] == sorted(
        (q["in_doubt"] for q in plan["quotes_to_get"]), key=float, reverse=True
    )


def test_a_quote_takes_the_place_of_a_rough_price(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "wagon"
    begun(run, folder, "tyre split:rear-left")
    with (folder / "quotes.csv").open("a", encoding="utf-8") as sheet:
        sheet.write("tyre-rear-left,kestrel,new,52.00\n")
    job = job_folder.job(folder, TODAY)
    assert [(q.supplier, q.rough) for q in job.quotes if q.part == "tyre-rear-left"] == [("kestrel", False)]


def test_what_has_a_rough_price_is_bought_by_naming_who_sold_it(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "wagon"
    begun(run, folder, "tyre split:rear-left")
    plan = json.loads(run("plan", folder, "--json")[1])
    (line,) = [line for order in plan["orders"] for line in order["lines"]]
    code, _, err = run("bought", folder, line["step"])
    assert code == 2
    assert f"optimiser bought {folder} tyre-rear-left from SHOP --price AMOUNT --condition new" in err
    assert not (folder / "record.sqlite").exists() or "entry" not in run("diary", folder)[1]
    code, out, _ = run("bought", folder, "tyre-rear-left", "from", "kestrel", "--price", "£52", "--condition", "new")
    assert code == 0
    assert "52.00 GBP" in out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--fault", "no heat", "--pot", "9"), "It is not sure what 'no heat' means."),
        (("--fault", "blower dead:left", "--pot", "9"), "has no place 'left'"),
        (("--fault", "blower dead"), "How much money is there, the purchase included?"),
        (("--fault", "blower dead", "--pot", "x"), "'x' is no amount."),
        (("--fault", "blower dead", "--pot", "-4"), "is below zero."),
        (("--fault", "blower dead", "--pot", "9", "--currency", "pound"), "no currency code"),
        (("--fault", "blower dead", "--fault", "heater-blower-dead", "--pot", "9"), "are one fault: "),
        (("--fault", "wheel bearing hums", "--fault", "wheel bearing hums", "--pot", "9"),
         "Say where each is: --fault 'wheel bearing hums:front-left'; it may be said of front-left, front-right, "),
        (("--fault", "blower dead", "--pot", "9", "--title", "!!"), "is no title"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_and_nothing_written(run: Run, tmp_path: Path, words: tuple[str, ...], told: str) -> None:
    code, _, err = run("begin", tmp_path / "new", *words)
    assert code == 2
    assert told in err
    assert not (tmp_path / "new").exists()


def test_a_job_that_is_there_is_never_written_over(run: Run, tmp_path: Path) -> None:
    begun(run, tmp_path / "a", "horn dead")
    before = (tmp_path / "a" / "job.toml").read_bytes()
    code, _, err = run("begin", tmp_path / "a", "--pot", "5", "--fault", "wipers dead")
    assert code == 2
    assert "optimiser add" in err
    assert (tmp_path / "a" / "job.toml").read_bytes() == before


def test_sheets_that_are_there_stay(run: Run, tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "quotes.csv").write_text("part,supplier,condition,price\nhorn,kestrel,new,9\n")
    assert begun(run, tmp_path / "a", "horn dead")["written"] == ["job.toml", "suppliers.csv"]
    assert "kestrel" in (tmp_path / "a" / "quotes.csv").read_text()


@pytest.mark.parametrize("ending", ["\n", "\r\n", ""])
def test_add_touches_no_byte_of_what_stands_there(run: Run, tmp_path: Path, ending: str) -> None:
    begun(run, tmp_path / "a", "horn dead")
    path = tmp_path / "a" / "job.toml"
    text = path.read_text().rstrip("\n") + "  # my own words: ü"
    before = (text.replace("\n", ending or "\n") + ending).encode()
    path.write_bytes(before)
    assert run("add", tmp_path / "a", "wipers dead")[0] == 0
    assert path.read_bytes().startswith(before)
    assert b"\r" not in path.read_bytes() or ending == "\r\n"
    assert [fault.id for fault in job_folder.job(tmp_path / "a", TODAY).faults] == ["horn", "wipers"]


def test_add_twice_asks_for_a_place_or_another_name(run: Run, tmp_path: Path) -> None:
    begun(run, tmp_path / "a", "tyre split")
    code, _, err = run("add", tmp_path / "a", "tyre split")
    assert code == 2
    assert "--place" in err
    assert run("add", tmp_path / "a", "tyre split", "--place", "rear-left")[0] == 0
    assert run("add", tmp_path / "a", "tyre split", "--as", "spare-tyre", "--severity", "minor")[0] == 0
    assert len(job_folder.job(tmp_path / "a", TODAY).faults) == 3


def test_a_plain_fault_needs_no_pattern(run: Run, tmp_path: Path) -> None:
    begun(run, tmp_path / "a", "horn dead")
    words = ("add", tmp_path / "a", "wobbly flag pole", "--plain", "--chance", "0.8", "--price", "£4,50")
    assert run(*words)[0] == 2
    assert run(*words, "--severity", "minor")[0] == 0
    fault = job_folder.job(tmp_path / "a", TODAY).faults[-1]
    assert (fault.id, fault.repairs[0].chance, fault.repairs[0].price_minor) == ("wobbly-flag-pole", 0.8, 450)


def test_a_system_that_nobody_knows_is_refused_before_anything_is_written(run: Run, tmp_path: Path) -> None:
    begun(run, tmp_path / "van", "horn dead")
    before = (tmp_path / "van" / "job.toml").read_bytes()
    said = ("--plain", "--severity", "minor", "--system", "warp", "--system", "breaks")
    code, _, err = run("add", tmp_path / "van", "awning rail leaks", *said)
    assert code == 2
    assert "'warp' is no system." in err
    assert "or leave --system out." in " ".join(err.split())
    assert (tmp_path / "van" / "job.toml").read_bytes() == before


def test_a_plain_fault_says_who_does_it_how_long_it_takes_and_what_it_is_about(run: Run, tmp_path: Path) -> None:
    begun(run, tmp_path / "a", "horn dead")
    words = ("add", tmp_path / "a", "wobbly flag pole", "--plain", "--severity", "dangerous", "--system", "lifting")
    assert run(*words, "--workshop")[2].startswith("What does the workshop ask?")
    assert run(*words, "--workshop", "--price", "80")[0] == 0
    assert run(*words, "--as", "own", "--minutes", "25")[0] == 0
    pole, own = job_folder.job(tmp_path / "a", TODAY).faults[1:]
    assert (pole.systems, own.systems) == (("lifting",), ("lifting",))
    assert (pole.repairs[0].by, pole.repairs[0].title) == ("workshop", "Have a workshop put it right")
    assert (own.repairs[0].by, own.repairs[0].title, own.repairs[0].minutes) == ("self", "Put it right", 25)
    before = (tmp_path / "a" / "job.toml").read_bytes()
    code, _, err = run(*words[:-1], "flagpoles", "--as", "other")
    assert code == 2
    assert "flagpoles" in err
    assert (tmp_path / "a" / "job.toml").read_bytes() == before


def test_the_jobs_title_tells_whose_chain_and_whose_brakes_are_meant(run: Run, tmp_path: Path) -> None:
    words = ("--pot", "900", "--title", "Cargo bike", "--fault", "e-bike motor cuts out")
    assert run("begin", tmp_path / "a", *words)[0] == 0
    assert run("add", tmp_path / "a", "chain skips", "--plain", "--severity", "major")[0] == 0
    assert job_folder.job(tmp_path / "a", TODAY).faults[-1].systems == ("drive-chain",)
    _, out, _ = run("found", tmp_path / "a", "new", "brakes need bleeding", "--json")
    assert "bicycle" in out
    assert "pedal" not in out


def test_a_title_may_be_longer_than_an_id(run: Run, tmp_path: Path) -> None:
    begun(run, tmp_path / "a", "horn dead")
    words = ("add", tmp_path / "a", f"{'wobbly ' * 40}flag pole", "--chance", "0.8", "--price", "4.50")
    assert run(*words, "--plain", "--severity", "minor")[0] == 0
    assert run(*words, "--to", "horn dead")[0] == 0
    horn, pole = job_folder.job(tmp_path / "a", TODAY).faults
    assert max(len(pole.id), len(horn.repairs[-1].id)) <= 200


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_a_workshops_price_is_one_more_way_to_put_a_fault_right(run: Run, tmp_path: Path, ending: str) -> None:
    """Behind the ways that the fault has; nothing else moves, though tables of one name stand apart."""
    folder = tmp_path / "job"
    begun(run, folder, "blower dead", "front brakes grind:front")
    file = folder / "job.toml"
    file.write_bytes(b"\xef\xbb\xbf" + file.read_bytes().replace(b"\n", ending.encode()))
    before = file.read_bytes()
    code, out, err = run(
        "add", folder, "Quay garage does pads and discs", "--to", "Disc brakes", "--workshop", "--price", "140",
        "--chance", "0.97",
    )  # fmt: skip
    assert (code, err) == (0, "")
    assert "by a workshop, for 140.00 GBP, with a chance of 97%" in " ".join(out.split())
    added = file.read_bytes()
    row = ["  [[fault.repair]]", '  id = "quay-garage-does-pads-and-discs"',
           '  title = "Quay garage does pads and discs"', "  chance = 0.97",
           '  price = "140.00"', '  by = "workshop"', ""]  # fmt: skip
    assert added.replace(ending.join(["", *row]).encode(), b"", 1) == before
    code, out, err = run("compare", folder, "brake-pads-discs-front")
    assert "Quay garage does pads and discs: workshop" in " ".join(out.split())
    for words, told in {
        ("--to", "brake-pads-discs-front"): "has a way quay-garage-does-pads-and-discs already",
        ("--to", "rudder"): "no fault 'rudder'",
        ("--to", "blower", "--price", "dear"): "'dear' is no amount",
    }.items():
        code, out, err = run("add", folder, "Quay garage does pads and discs", *words)
        assert code == 2
        assert told in " ".join(err.split())
    assert file.read_bytes() == added


def test_a_way_of_ones_own_takes_time_and_its_fault_must_stand_in_the_file(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    begun(run, folder, "blower dead")
    code, out, _ = run("add", folder, "Fan of a heater", "--to", "blower", "--price", "9", "--minutes", "40", "--json")
    assert code == 0
    row = {"id": "fan-of-a-heater", "title": "Fan of a heater", "chance": 0.9, "price": "9.00", "minutes": 40}
    assert json.loads(out) == {"folder": str(folder), "fault": "blower", "repair": row, "licences_lacking": []}
    assert run("found", folder, "new", "Roof leaks", "--severity", "minor")[0] == 0
    code, _, err = run("add", folder, "Seal it", "--to", "roof-leaks", "--price", "9")
    assert code == 2
    assert "written down in the diary, and not in job.toml" in " ".join(err.split())


def test_a_persons_own_patterns_are_read_and_complained_of(run: Run, tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    head = '[pattern]\ntitle = "Tail lift creeps down"\nasked_as = ["tail lift sinks"]\n'
    body = '[[fault]]\nid = "tail-lift"\nseverity = "major"\nsystem = "hydraulics"\n  [[fault.repair]]\n  id = "seal"\n'
    (own / "tail-lift.toml").write_text(head + body + '  chance = 0.9\n  price = "30.00"\n')
    begun(run, tmp_path / "a", "tail lift sinks")
    assert job_folder.job(tmp_path / "a", TODAY).faults[0].id == "tail-lift"
    (own / "bad.toml").write_text("[pattern]\n")
    (own / "worse.toml").write_text("[pattern\n")
    code, _, err = run("begin", tmp_path / "b", "--pot", "9", "--fault", "tail lift sinks")
    assert code == 2
    assert "patterns/bad.toml" in err
    assert "patterns/worse.toml" in err


def test_an_empty_folder_is_answered_with_begin(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for verb in ("plan", "verify", "orders"):
        code, _, err = run(verb)
        assert code == 2
        assert "optimiser begin" in err


@given(
    st.lists(st.sampled_from(sorted(CATALOGUE)), min_size=1, max_size=4, unique=True),
    st.sampled_from(["GBP", "JPY", "KWD"]),
)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_patterns_go_together(names: list[str], code: str) -> None:
    """What one of them has a row for is not written again by the next."""

    currency = Currency.of(code)
    text = starting.head(starting.NewJob("Invented", currency, 10**6))
    there: dict[str, set[str]] = {"access": set(), "part": set()}
    for name in names:
        text += patterns.fault_text(Wanted(CATALOGUE[name]), currency, there)
        job = job_folder.job(Path("/nowhere"), TODAY, written=text)
        there = {"access": {row.id for row in job.access}, "part": {row.id for row in job.parts if row.title}}
    assert len(job.faults) == len(names)


def test_work_that_a_pattern_prices_is_rough_until_the_mark_is_struck(tmp_path: Path, run: Run) -> None:
    folder = tmp_path / "job"
    run("begin", folder, "--pot", "900", "--purchase", "300", "--currency", "GBP", "--fault", "air con not cold")
    said = " ".join(run("plan", folder)[1].split())
    assert "Work to ask the price of: Licensed workshop" in said
    assert json.loads(run("plan", folder, "--json")[1])["rough_work"][0].startswith("Licensed workshop")
    assert "Work is priced by a guess" in " ".join(run("verify", folder)[1].split())
    file = folder / "job.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("  rough = true\n", ""), encoding="utf-8")
    assert "Work to ask" not in run("plan", folder)[1]


def test_a_pot_that_is_overdrawn_from_the_start_is_said_with_what_to_change(tmp_path: Path, run: Run) -> None:
    folder = tmp_path / "job"
    call = ("begin", folder, "--pot", "1000", "--purchase", "1100", "--currency", "GBP", "--fault", "blower dead")
    code, out, _ = run(*call)
    assert code == 0
    assert (
        "! The pot of 1000.00 GBP is overdrawn by 100.00 GBP from the start: 1100.00 GBP paid for it. Only what costs"
        ' nothing can be planned. Raise "cap" under [money] in job.toml, or lower what is too high there.'
    ) in " ".join(out.split())
    file = folder / "job.toml"
    told = file.read_text(encoding="utf-8").replace(
        'cap = "1000.00"', 'cap = "1150.00"\nspent = "20.00"\nhold_back = "50.00"'
    )
    file.write_text(told, encoding="utf-8")
    out = run("add", folder, "horn dead")[1]
    assert "overdrawn by 20.00 GBP from the start: 1100.00 GBP paid for it, 20.00 GBP spent, 50.00 GBP held back." in (
        " ".join(out.split())
    )
    assert json.loads(run("add", folder, "wipers dead", "--json")[1])["overdrawn_by"] == "20.00"
    file.write_text(told.replace("1150.00", "1170.00"), encoding="utf-8")
    assert "overdrawn by" not in run("add", folder, "horn dead")[1]


@pytest.mark.parametrize("said", ["", ":::", "::minor", "?!"])
def test_words_that_say_nothing_get_a_mend_that_works(said: str, tmp_path: Path, run: Run) -> None:
    folder = tmp_path / "job"
    call = ("begin", folder, "--pot", "900", "--purchase", "300", "--currency", "GBP")
    code, out, err = run(*call, "--fault", said)
    assert (code, out) == (2, "")
    assert f"{said!r} says nothing of what is wrong." in err
    assert not folder.exists()
    assert run(*call, *shlex.split(err.partition("words: ")[2].splitlines()[0]))[0] == 0
    assert "says nothing of what is wrong" in run("add", folder, said)[2]


def test_all_words_that_are_not_sure_are_told_at_once_and_each_mend_works(tmp_path: Path, run: Run) -> None:
    folder = tmp_path / "job"
    unsure = ("no heat", "sliding door rusty sill")
    call = ("begin", folder, "--pot", "900", "--purchase", "300", "--currency", "GBP")
    code, out, err = run(*call, *(word for one in unsure for word in ("--fault", one)))
    assert (code, out) == (2, "")
    assert all(f"It is not sure what {one!r} means." in err for one in unsure)
    assert not folder.exists()
    offered = re.findall(r"--fault ([a-z0-9-]+) \(", err)
    assert run(*call, *(word for one in dict.fromkeys(offered) for word in ("--fault", one)))[0] == 0
    assert "The others are clear" not in err
    for plain in re.findall(r"optimiser (add .*?--price 45)", err):
        assert run(*shlex.split(plain))[0] == 2, "how grave it is, is to be chosen"
        assert run(*shlex.split(plain.replace("HOW-GRAVE", "major")))[0] == 0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("Weld it", "--to", "blower", "--plain", "--severity", "major"), "has no place, gravity or name of its own"),
        (("Weld it", "--to", "blower", "--place", "left"), "has no place, gravity or name of its own"),
        (("blower dead", "--workshop"), "or of which fault: --to FAULT"),
        (("blower dead", "--minutes", "5"), "or of which fault: --to FAULT"),
        (("Weld it", "--to", "blower", "--system", "brakes"), "has no place, gravity or name of its own"),
        (("Weld it", "--to", "blower", "--workshop"), "What does the workshop ask?"),
        (("!!!", "--to", "blower", "--price", "5"), "Say it in words, with letters or figures."),
        (("Weld it", "--to", "blower", "--price", ""), "no amount"),
    ],
)
def test_what_does_not_go_with_a_way_is_refused(run: Run, tmp_path: Path, words: tuple[str, ...], told: str) -> None:
    folder = tmp_path / "job"
    begun(run, folder, "blower dead")
    before = (folder / "job.toml").read_bytes()
    code, _, err = run("add", folder, *words)
    assert code == 2
    assert told in " ".join(err.split())
    assert (folder / "job.toml").read_bytes() == before


def test_the_call_for_the_clear_ones_among_words_that_are_not_sure_can_be_typed(tmp_path: Path, run: Run) -> None:
    folder = tmp_path / "the wagon"
    clear = ("front brakes grind:front", "tyre split:rear-left:major", "horn dead")
    faults = [word for one in (*clear, "no heat") for word in ("--fault", one)]
    code, _, err = run("begin", folder, "--pot", "900", "--purchase", "300", "--hours", "7.5", *faults)
    assert (code, folder.exists()) == (2, False)
    again = err.partition("Begin with them: optimiser ")[2].splitlines()[0]
    assert run(*shlex.split(again))[0] == 0
    job = job_folder.job(folder, TODAY)
    assert [fault.id for fault in job.faults] == ["brake-pads-discs-front", "tyre-split-or-worn-rear-left", "horn"]
    assert (job.pot.cap_minor, job.pot.purchase_minor, job.time.hours) == (90000, 30000, 7.5)
    assert job.faults[1].severity == "major"


def test_the_title_of_a_job_tells_of_what_a_fault_is_added_to(tmp_path: Path, run: Run) -> None:
    folder = tmp_path / "shed-bike"
    assert run("begin", folder, "--pot", "900")[0] == 0
    assert "motorbike-carburettor-floods" in run("add", folder, "petrol leaks")[2]
    assert run("add", folder, "chain worn")[0] == 0


@pytest.mark.parametrize("verb", ["begin", "add"])
def test_what_is_dangerous_by_its_pattern_and_said_to_be_less_is_taken_and_said(
    tmp_path: Path, run: Run, verb: str
) -> None:
    folder = tmp_path / "job"
    new = ("begin", folder, "--pot", "900")
    if verb == "begin":
        calls = [(*new, "--fault", "brakes spongy::minor"), (*new, "--fault", "brakes spongy::dangerous")]
    else:
        begun(run, folder)
        calls = [
            ("add", folder, "brakes spongy", "--severity", grave, "--as", f"one-{at}")
            for at, grave in enumerate(("minor", "dangerous"))
        ]
    note = "is dangerous by its pattern; you said minor: nothing bans its use now."
    code, out, _ = run(*calls[0])
    assert (code, " ".join(out.split()).count(note)) == (0, 1)
    assert job_folder.job(folder, TODAY).faults[0].severity == "minor"
    if verb == "begin":
        (folder / "job.toml").unlink()
    code, out, _ = run(*calls[1])
    assert (code, "by its pattern" in " ".join(out.split())) == (0, False)
    told = json.loads(run("add", folder, "front brakes grind:front", "--severity", "minor", "--json")[1])
    assert [note in line for line in told["notes"]] == [True]
    assert json.loads(run("add", folder, "horn dead", "--severity", "minor", "--json")[1])["notes"] == []


def test_what_was_left_out_at_a_terminal_is_named_at_the_end_with_what_adds_it(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answers: no heat, none of those that are near, not said how grave; then a horn; all else as it is usual."""
    answers = iter(["no heat", "", "", "horn dead"])
    monkeypatch.setattr("optimiser.cli.beginning.somebody_is_there", lambda: True)
    monkeypatch.setattr("optimiser.cli.writing.somebody_is_there", lambda: True)
    monkeypatch.setattr("click.prompt", lambda *_, default="", **__: next(answers, default))
    folder = tmp_path / "job"
    code, out, _ = run("begin", folder, "--pot", "900", "--title", "Van", "--hours", "9")
    assert code == 0
    assert [fault.id for fault in job_folder.job(folder, TODAY).faults] == ["horn"]
    left = " ".join(out.split()).partition("! Left out, so in no plan: no heat. To add it: optimiser ")[2]
    adding = left.partition(" (in place of")[0].replace("HOW-GRAVE", "major")
    assert run(*shlex.split(adding))[0] == 0
    assert [fault.id for fault in job_folder.job(folder, TODAY).faults] == ["horn", "no-heat"]


def test_calls_printed_for_the_only_fault_that_is_not_sure_work_one_after_the_other(tmp_path: Path, run: Run) -> None:
    folder = tmp_path / "the van"
    code, _, err = run("begin", folder, "--pot", "900", "--fault", "fuel smell")
    assert (code, folder.exists()) == (2, False)
    begin = err.partition("Begin it empty: optimiser ")[2].splitlines()[0]
    add = err.partition("then add it by no pattern: optimiser ")[2].splitlines()[0]
    assert run(*shlex.split(begin))[0] == 0
    assert run(*shlex.split(add))[0] == 0
    assert [fault.severity for fault in job_folder.job(folder, TODAY).faults] == ["dangerous"]


def test_what_it_fetches_was_said_before_a_fault_was_known(run_on: Callable[[Path], Run], tmp_path: Path) -> None:
    run = run_on(tmp_path / "van")
    run("begin", "--pot", "900", "--fault", "radiator leaks")
    job = tmp_path / "van" / "job.toml"
    assert "said before this was known" not in run("add", "horn dead")[1]
    text = job.read_text(encoding="utf-8")
    job.write_text(text.replace("[money]\n", '[money]\nsale_as_it_stands = "1000.00"\n'), encoding="utf-8")
    told = " ".join(run("add", "radio dead")[1].split())
    assert "sale_as_it_stands under [money] was said before this was known: lower it by what this takes off" in told
