"""``python -m tests.sheets.scores open_3``: how many sheets of a file are right, ask or are wrong, at first sight and
after the mends that are printed then are typed as printed.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path

from optimiser.errors import Problem, WordsError
from optimiser.model.imports import Understood
from tests.sheets import corpus
from tests.sheets.corpus import Sheet


def after_one_round(sheet: Sheet, folder: Path) -> tuple[str, list[str]]:
    """What the sheet is once the first way of every printed mend is typed, and what is asked then."""
    options: dict[str, list[str]] = {"part": [f"{name}={part}" for name, part in sheet.parts.items()]}
    for option, value in corpus.typed(corpus.read(sheet, folder)[1]):
        options.setdefault(option, []).append(value)
    try:
        understood, problems = corpus.read(sheet, folder, corpus.told_of(options))
    except WordsError as error:
        return "refused", [f"    {error}"]
    said = [f"    {problem.where} {problem.key}: {problem.found}; {problem.mend}" for problem in problems]
    if not problems and understood is not None and understood.rows:
        return ("accepted" if sheet.asks else corpus.score(sheet, understood, problems)), said
    return "asks", said


def main(halves: list[str]) -> None:
    """Each file's figures, and of those named alone every sheet that is not right."""
    for half in halves:
        first, then = Counter[str](), Counter[str]()
        for sheet in corpus.sheets(half):
            with tempfile.TemporaryDirectory() as folder:
                understood, problems = corpus.read(sheet, Path(folder))
                score = corpus.score(sheet, understood, problems)
                first[f"{score}{' as it should' if sheet.asks and score == 'asks' else ''}"] += 1
                if score == "right":
                    continue
                again, left = after_one_round(sheet, Path(folder))
                then[f"{'doubtful' if sheet.asks else 'plain'}: {again}"] += 1
                if len(halves) == 1:
                    print(f"{score}, then {again}: {sheet.name} [{'asks ' + sheet.asks if sheet.asks else 'plain'}]")
                    _print_all(sheet, understood, problems, left)
        print(f"{half}: {dict(first)}; after one round: {dict(sorted(then.items()))}")


def _print_all(sheet: Sheet, understood: Understood | None, problems: tuple[Problem, ...], left: list[str]) -> None:
    for problem in problems:
        print(f"  {problem.where} {problem.key}: {problem.found}; {problem.mend}")
    print(*left, sep="\n", end="\n" if left else "")
    if understood is not None and not sheet.asks:
        print(*(f"  has   {corpus.line(row)}" for row in understood.rows), sep="\n")
        print(*(f"  wants {row}" for row in sheet.truth), sep="\n")


if __name__ == "__main__":
    main(sys.argv[1:])
