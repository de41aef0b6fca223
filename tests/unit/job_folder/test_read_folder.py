"""Folders that are none, files that cannot be opened: always an answer, never a traceback."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from optimiser import job_folder
from optimiser.errors import CallError, InputError, OptimiserError
from optimiser.job_folder import expected, package_data, row_reader
from optimiser.job_folder.problems import nearest, shown
from optimiser.model import job as model
from optimiser.model.quotes import Quote, Supplier

from .conftest import TODAY, lay

M = '[money]\ncap = "1"\n'
HEAD = "part,supplier,condition,price\n"


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(CallError, match="There is no folder"):
        job_folder.job(tmp_path / "none", TODAY)


def test_a_folder_without_a_job(tmp_path):
    with pytest.raises(CallError, match=r"There is no job\.toml"):
        job_folder.job(tmp_path, TODAY)


def test_a_file_for_a_folder(tmp_path):
    with pytest.raises(CallError, match="is no folder"):
        job_folder.job(lay(tmp_path, {"job.toml": M}) / "job.toml", TODAY)


def test_a_folder_in_a_circle(tmp_path):
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    with pytest.raises(CallError, match="cannot be opened"):
        job_folder.job(tmp_path / "a", TODAY)


@pytest.mark.parametrize("name", ["a\0b", "x" * 5000])
def test_a_name_that_cannot_exist(tmp_path, name):
    with pytest.raises(CallError) as caught:
        job_folder.job(tmp_path / name, TODAY)
    assert str(caught.value).isprintable()


def test_a_folder_without_permission(tmp_path, monkeypatch):
    def refuse(_path: Path, **_options: object) -> None:
        raise PermissionError(13, "Permission denied")

    lay(tmp_path, {"job.toml": M})
    monkeypatch.setattr(Path, "lstat", refuse)
    with pytest.raises(CallError, match="no permission"):
        job_folder.job(tmp_path, TODAY)


@pytest.mark.parametrize("name", ["job.toml", "quotes.csv", "suppliers.csv", "quotes/a.csv"])
def test_a_file_without_permission(bad, monkeypatch, name):
    opening = os.open

    def refuse(path: Path, flags: int, *args: object, **options: object) -> int:
        if Path(path).as_posix().endswith(name) and not flags & os.O_CREAT:
            raise PermissionError(13, "Permission denied")
        return opening(path, flags, *args, **options)

    files = {"quotes.csv": HEAD, "suppliers.csv": "supplier\n", "quotes/a.csv": HEAD}
    monkeypatch.setattr(os, "open", refuse)
    (problem,) = bad(M, files)
    assert problem.file == name
    assert "permission" in problem.found


@pytest.mark.parametrize("name", ["job.toml", "quotes.csv", "suppliers.csv", "quotes/a.csv"])
@pytest.mark.parametrize("what", ["circle", "folder", "pipe"])
def test_what_is_no_file(tmp_path, name, what):
    path = lay(tmp_path, {"job.toml": M, "quotes/b.csv": HEAD}) / name
    path.unlink(missing_ok=True)
    if what == "circle":
        path.symlink_to(path)
    elif what == "folder":
        path.mkdir()
    else:
        os.mkfifo(path)
    with pytest.raises(InputError) as caught:
        job_folder.job(tmp_path, TODAY)
    assert [problem.file for problem in caught.value.problems] == [name]


def test_a_link_to_nowhere(tmp_path):
    lay(tmp_path, {"job.toml": M})
    (tmp_path / "quotes.csv").symlink_to(tmp_path / "gone.csv")
    (tmp_path / "quotes").symlink_to(tmp_path / "gone")
    with pytest.raises(InputError) as caught:
        job_folder.job(tmp_path, TODAY)
    assert {problem.file for problem in caught.value.problems} == {"quotes.csv", "quotes"}


def test_a_folder_of_sheets_without_permission(bad, monkeypatch):
    def refuse(_path: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    (problem,) = bad(M, {"quotes/a.csv": HEAD})
    assert (problem.file, problem.found) == ("quotes", "no permission to read it")


def test_a_file_where_the_folder_of_sheets_belongs(bad):
    (problem,) = bad(M, {"quotes": HEAD})
    assert (problem.file, problem.found) == ("quotes", "a file")


def test_a_sheet_whose_name_cannot_be_shown(bad):
    (problem,) = bad(M, {"quotes/a\x1b[31m.csv": HEAD})
    assert problem.file == "quotes/a\\x1b[31m.csv"
    assert problem.mend == "rename the file"


def test_the_title_is_the_name_of_the_folder_even_from_inside(tmp_path, monkeypatch):
    monkeypatch.chdir(lay(tmp_path, {"job.toml": M}))
    assert job_folder.job(Path(), TODAY).settings.title == tmp_path.name


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("a", '"a"'),
        ("a\x1b\n\u202e", '"a\\x1b\\n\\u202e"'),
        ("x" * 70, '"' + "x" * 60 + '..."'),
        ("\x00" * 60, '"' + "\\x00" * 15 + '..."'),
        (True, "true"),
        (10**70, "a number of more than 60 digits"),
        ([], "an empty list"),
        ([1, 2], "a list of 2"),
        ({"a": 1}, "a table"),
        (TODAY, "2026-11-24"),
    ],
)
def test_found_values_are_safe_to_print(value, text):
    assert shown(value) == text
    assert shown(value).isprintable()


def test_a_number_too_long_for_python_to_print():
    assert shown(-(10**5000)) == "a number of more than 60 digits"


def test_the_nearest_word():
    assert nearest("disk", ["disc", "drum"]) == "disc"
    assert nearest("zzz", ["disc", "drum"]) == ""
    assert nearest("x" * 10**6, ["disc"]) == ""
    assert nearest(3, ["disc"]) == ""


RECORDS = [model.Settings, model.Pot, model.Time, model.Solve, model.Access, model.Part, model.Owned, model.Check,
           model.Repair, Supplier]  # fmt: skip


@pytest.mark.parametrize("kind", RECORDS)
def test_every_key_has_words_for_what_belongs_there(kind):
    assert set(row_reader.keys_of(kind)) <= set(expected.BY_KEY)


def test_every_key_of_faults_and_quotes_has_words_too():
    assert set(row_reader.keys_of(model.Fault)) - {"check", "repair"} <= set(expected.BY_KEY)
    assert set(row_reader.keys_of(Quote)) <= set(expected.BY_KEY)
    assert set(expected.INSIDE) <= set(expected.BY_KEY)
    assert set(row_reader.keys_of(model.Job)) - {"quotes", "suppliers", "seen"} == {
        "job", "money", "time", "solve", "words", "access", "part", "owned", "fault",
    }  # fmt: skip


def test_packed_data_beside_the_package_and_inside_it(tmp_path):
    package = tmp_path / "somewhere" / "optimiser"
    package.mkdir(parents=True)
    assert package_data.folder(package) == tmp_path / "somewhere" / "data"
    (package / "data").mkdir()
    assert package_data.folder(package) == package / "data"
    assert (package_data.folder() / "conditions.toml").is_file()


def test_chances_by_condition():
    chances = package_data.conditions()
    assert set(chances) == {"new", "refurbished", "salvage"}
    assert 1 >= chances["new"] > chances["refurbished"] > chances["salvage"] > 0


def test_cautions_by_system():
    cautions = package_data.cautions()
    assert {"airbags-and-belts", "high-voltage", "gas", "refrigerant", "brakes"} <= set(cautions)
    said = package_data.cautions_for(["fuel", "heating"], ["friction"], {"live": ["Feed it", "Feed it", "Probe it"]})
    assert {"Brakes", "Dust of old linings and gaskets", "Petrol vapour", "Fuel beside heating"} <= set(said)
    assert "Check on a live circuit (Feed it, Probe it)" in said
    assert "Fuel beside heating" not in package_data.cautions_for(["heating"])
    assert package_data.cautions_for(["no such system"]) == {}


def test_packed_data_that_is_gone_is_a_fault_of_the_program(tmp_path, monkeypatch):
    monkeypatch.setattr(package_data, "_PACKAGE", tmp_path)
    monkeypatch.setattr(package_data.folder, "__defaults__", (tmp_path,))
    with pytest.raises(OptimiserError, match="install it again") as caught:
        package_data.conditions.__wrapped__()
    assert caught.value.exit_code == 70
