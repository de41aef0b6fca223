"""The guide on the terminal: all topics, the page of one, and words that name none."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import Console

from optimiser import service
from optimiser.errors import CallError, OptimiserError
from optimiser.job_folder import package_data
from optimiser.show import guide_shown
from tests.unit.conftest import Run


def test_without_a_topic_all_are_listed_one_line_each(run: Run) -> None:
    code, out, err = run("guide")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert [line.split()[0] for line in lines[:-1]] == list(package_data.guide())
    assert "compare   Comparing quotes" in lines
    assert all(len(line) <= 80 for line in lines)


@pytest.mark.parametrize("topic", package_data.guide())
def test_a_page_goes_into_a_pipe_as_it_is_written(run: Run, topic: str) -> None:
    assert run("guide", topic) == (0, package_data.guide()[topic], "")


@pytest.mark.parametrize("topic", package_data.guide())
def test_a_page_is_laid_out_on_a_terminal(topic: str) -> None:
    out = Console(file=io.StringIO(), force_terminal=True, color_system=None, width=80)
    guide_shown.page(out, package_data.guide()[topic])
    assert isinstance(out.file, io.StringIO)
    lines = out.file.getvalue().splitlines()
    assert all(len(line) <= 80 for line in lines)
    assert not [line for line in lines if line.startswith(("#", "|", "```"))]


@pytest.mark.parametrize("words", [("QUOTES",), ("quotes as they arrive",), ("Quotes", "as", "they", "arrive")])
def test_a_topic_is_found_by_its_title_too_and_in_any_case(run: Run, words: tuple[str, ...]) -> None:
    assert run("guide", *words) == (0, package_data.guide()["quotes"], "")


@pytest.mark.parametrize(("word", "meant"), [("qoutes", "quotes"), ("limitts", "limits"), ("bakset", "basket")])
def test_a_topic_misspelt_is_refused_with_the_nearest(run: Run, word: str, meant: str) -> None:
    code, out, err = run("guide", word)
    assert (code, out) == (2, "")
    found, mend = err.splitlines()
    assert found == f"There is no topic of the guide called {word!r}."
    assert mend.startswith(f"Did you mean: {meant}")


@pytest.mark.parametrize("word", ["xyzzy", "-" * 3, "\x1b[31m", "é" * 500, "../../LICENSE", "limits/answer"])
def test_words_that_name_no_topic_do_no_harm(run: Run, word: str) -> None:
    code, out, err = run("guide", "--", word)
    assert (code, out) == (2, "")
    assert "\x1b" not in err
    assert "Traceback" not in err


@pytest.mark.parametrize("word", ["", "  "])
def test_no_word_is_no_topic(run: Run, word: str) -> None:
    assert run("guide", word) == run("guide")


def test_somebody_at_a_terminal_is_asked() -> None:
    asked: list[tuple[str, ...]] = []

    def ask(_: str, answers: object) -> str:
        asked.append(tuple(answers))  # type: ignore[arg-type]
        return "quotes"

    assert list(service.guide("qoutes", ask)) == ["quotes"]
    assert asked[0][0] == "quotes"
    with pytest.raises(CallError):
        service.guide("qoutes", lambda _, __: None)


def test_a_guide_that_is_missing_is_a_fault_that_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(package_data, "folder", lambda: tmp_path)
    with pytest.raises(OptimiserError, match="install it again"):
        package_data.guide.__wrapped__()


@pytest.mark.parametrize(
    "name",
    ["minutes_not_said", "long_shot", "chance_in_all", "nothing_to_order", "licences_lacking", "weighted", "ahead-cut",
     "step"],
)  # fmt: skip
def test_what_a_name_in_json_does_not_say_stands_in_the_guide(name: str) -> None:
    assert f"`{name}`" in package_data.guide()["answer"].partition("## In JSON")[2]
