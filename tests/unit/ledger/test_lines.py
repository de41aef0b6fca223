"""The record as JSON lines: out and in again without loss, and everything wrong in a file said at once."""

from __future__ import annotations

import json
from dataclasses import astuple

import pytest

from optimiser.errors import CallError, InputError, Problem
from optimiser.ledger import Recorded, Store, export

from .sample import full_store, left_in, note


@pytest.fixture
def full(tmp_path) -> tuple[Store, Recorded]:
    return full_store(tmp_path)


def exported(recorded: Recorded) -> bytes:
    return b"".join(export.lines(recorded))


def test_out_and_in_again(full, tmp_path) -> None:
    _, everything = full
    folder = tmp_path / "new"
    folder.mkdir()
    export.write(folder / "export.jsonl", everything)
    new = Store(folder)
    new.fill(export.read(folder / "export.jsonl"))
    assert new.everything() == everything
    export.write(folder / "again.jsonl", new.everything())
    assert (folder / "again.jsonl").read_bytes() == (folder / "export.jsonl").read_bytes()
    assert left_in(folder) == ["again.jsonl", "export.jsonl", "record.sqlite"]


def test_how_it_looks(full) -> None:
    _, everything = full
    written = exported(everything).split(b"\n")
    assert json.loads(written[0]) == {"format": 1, "happenings": 21, "plans": 2}
    assert written[2] == b'{"number":2,"happening":{"at":"2026-11-24T19:31:00Z","source":"found","kind":"it-is","fault":"blower","cause":"resistor"}}'  # noqa: E501 # fmt: skip
    assert written[-2] == b'{"plan":{"number":2,"at":"2026-11-24T19:30:00Z","after":20,"text":"{\\"format\\": 1, \\"fixes\\": 1}"}}'  # noqa: E501 # fmt: skip
    assert written[-1] == b""
    assert len(written) == 1 + 21 + 2 + 1


def test_an_empty_record(tmp_path) -> None:
    data = exported(Store(tmp_path).everything())
    assert data == b'{"format":1,"happenings":0,"plans":0}\n'
    assert export.recorded(data, "f") == ((), ())


def test_only_into_a_record_that_is_none_yet(full) -> None:
    store, everything = full
    before = store.path.read_bytes()
    with pytest.raises(CallError, match="already holds a record"):
        store.fill(everything)
    assert store.path.read_bytes() == before


def test_only_whole_records_are_taken_in(full, tmp_path) -> None:
    new = Store(tmp_path / "new")
    new.folder.mkdir()
    with pytest.raises(ValueError, match="without a gap"):
        new.fill(full[1]._replace(entries=full[1].entries[1:]))
    assert new.everything() == ((), ())


def test_what_editors_do_to_a_file_is_borne(full) -> None:
    _, everything = full
    data = exported(everything)
    edited = b"\xef\xbb\xbf" + data.replace(b"\n", b"\r\n").replace(b'{"number":3,', b'\r\n  { "number" : 3 ,')
    edited = edited.replace(b'{"plan":', b' { "plan" : ')
    assert export.recorded(edited + b"\r\n\r\n", "f") == everything


def problems(data: bytes) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        export.recorded(data, "export.jsonl")
    for problem in caught.value.problems:
        assert problem.file == "export.jsonl"
        assert problem.found
        assert problem.expected
        assert problem.mend
        assert all(text.isprintable() for text in astuple(problem))
    return caught.value.problems


def test_all_problems_are_said_at_once(full) -> None:
    _, everything = full
    written = exported(everything).split(b"\n")
    written[1] = written[1].replace(b'"cost_minor":150', b'"cost_minor":-150').replace(b'"fault":"blower",', b"")
    written[2] = written[2].replace(b'"it-is"', b'"it-was"')
    written[4] = written[4].replace(b'"GBP"', b'"\\u001b[2J"')
    written[5] = written[5][:-1]
    written[6] = b"\xff\xfe"
    written[7] = written[7].replace(b'"number":7', b'"number":8')
    written[21] = written[21].replace(b'"strikes":20', b'"strikes":21')
    written[22] = written[22].replace(b'"after":20', b'"after":99')
    written[23] = written[23].replace(b'"number":2', b'"number":3')
    found = [(problem.where, problem.key) for problem in problems(b"\n".join(written))]
    assert ("line 2", "happening.finding.fault") in found
    assert ("line 2", "happening.finding.cost_minor") in found
    assert ("line 3", "happening") in found
    assert ("line 5", "happening.purchase.currency") in found
    assert ("line 6", "") in found
    assert ("line 7", "") in found
    assert ("line 8", "number") in found
    assert ("line 22", "happening.strikes") in found
    assert ("line 23", "plan.after") in found
    assert ("line 24", "plan.number") in found


@pytest.mark.parametrize(
    ("head", "rest", "key"),
    [
        (b"", b"", ""),
        (b"not JSON", b"", ""),
        (b'{"format":2,"happenings":0,"plans":0}', b"", "format"),
        (b'{"format":1,"happenings":1,"plans":0}', b"", "happenings"),
        (b'{"format":1,"happenings":0,"plans":1}', b"", "plans"),
        (b'{"format":1,"happenings":0,"plans":0,"more":1}', b"", "more"),
        (b'{"format":1,"happenings":0,"plans":0}', b'{"at":"2026-11-24T19:30:00Z"}', "number"),
        (b"[" * 100_000, b"", ""),
    ],
)
def test_what_is_no_export(head, rest, key) -> None:
    assert key in {problem.key for problem in problems(head + b"\n" + rest)}


def test_a_line_left_out_or_said_twice_shows(full) -> None:
    written = exported(full[1]).split(b"\n")
    assert problems(b"\n".join(written[:3] + written[4:]))
    assert problems(b"\n".join([*written[:3], written[2], *written[3:]]))
    assert problems(b"\n".join(written[:-2]))


def test_a_strike_strikes_something_earlier_once(tmp_path) -> None:
    store = Store(tmp_path)
    store.append([note(), note()])
    for _ in range(2):
        store.strike(store.entries()[0].happening.at, "strike")
    data = exported(store.everything())
    assert export.recorded(data, "f").entries == store.entries()
    for wrong in (b'"strikes":3', b'"strikes":2', b'"strikes":4', b'"strikes":5'):
        (problem,) = problems(data.replace(b'"strikes":1', wrong))
        assert problem.where == "line 5"


def test_many_problems_are_counted() -> None:
    data = b'{"format":1,"happenings":70,"plans":0}\n' + b"x\n" * 70
    with pytest.raises(InputError) as caught:
        export.recorded(data, "f")
    assert (len(caught.value.problems), caught.value.left_out) == (50, 21)


def test_hostile_text_in_a_problem_is_harmless() -> None:
    hostile = json.dumps({"number": "\x1b[31m\u202e" + "x" * 10_000, "happening": None, "\x07\n": 1}).encode()
    for problem in problems(b'{"format":1,"happenings":1,"plans":0}\n' + hostile):
        assert len(problem.found) < 100
        assert problem.key.isascii()


def test_files_that_cannot_be_had(full, tmp_path) -> None:
    _, everything = full
    there = tmp_path / "there.jsonl"
    there.write_text("mine")
    with pytest.raises(CallError, match="there already"):
        export.write(there, everything)
    assert there.read_text() == "mine"
    with pytest.raises(CallError, match="cannot be written"):
        export.write(tmp_path / "nowhere" / "export.jsonl", everything)
    for path in (tmp_path / "missing", tmp_path):
        with pytest.raises(CallError, match="is no file"):
            export.read(path)
    assert "missing" not in left_in(tmp_path)


def test_an_export_that_stops_halfway_leaves_nothing(full, tmp_path, monkeypatch) -> None:
    def stops(_: Recorded):
        yield b"half"
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(export, "lines", stops)
    with pytest.raises(CallError, match="No space left"):
        export.write(tmp_path / "export.jsonl", full[1])
    assert left_in(tmp_path) == ["record.sqlite"]
