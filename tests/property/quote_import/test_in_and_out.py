"""Sheets taken in, out and back in any order: each step and its opposite leave the job as it was, to the byte, and no
offer stands twice."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from optimiser import job_folder
from optimiser.errors import CallError
from optimiser.quote_import import Told, accept, register, taken_in, turn_back, understand
from tests.effort import examples
from tests.unit.quote_import.accepting import DAY, JOB
from tests.unit.quote_import.conftest import GBP, KNOWN

ROWS = st.lists(
    st.tuples(st.sampled_from(["front disc", "rear shoe"]), st.sampled_from(["new", "used"]), st.integers(5, 9)),
    min_size=1, max_size=3, unique_by=lambda row: row[:2],
)  # fmt: skip
TAKING_IN = st.tuples(
    st.sampled_from(["oddlode", "mossback"]), st.sampled_from(["list", "special"]), ROWS, st.integers(0, 3),
    st.booleans(),
)  # fmt: skip
TURNING = st.tuples(st.integers(0, 5), st.booleans())


def files_of(folder: Path) -> dict[str, bytes]:
    """All but what keeps the acceptances themselves."""
    every = (path for path in folder.rglob("*") if path.is_file() and path.parent.name != register.BEFORE)
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in every}


def take(folder: Path, supplier: str, name: str, rows: list[tuple[str, str, int]], postage: int, whole: bool) -> None:
    path = folder.parent / f"{supplier} {name}.csv"
    lines = [f"{part},{condition},{price}.00,{postage}.00\n" for part, condition, price in rows]
    path.write_text("part,condition,price,P&P\n" + "".join(lines))
    column = "postage" if postage else "ignore"
    told = Told(supplier=supplier, columns={"P&P": column})
    sheet = understand(path, KNOWN, told, register.read(folder).suppliers)
    if not sheet.doubts:
        accept(folder, [sheet], GBP, DAY, whole=whole)


def turn(folder: Path, sheet: str, *, put_back: bool) -> bool:
    """Whether it was done; what is refused changes nothing."""
    before = files_of(folder)
    try:
        turn_back(folder, sheet, put_back=put_back)
    except CallError:
        assert files_of(folder) == before
        return False
    return True


@given(st.lists(st.one_of(TAKING_IN, TURNING), min_size=2, max_size=12))
@examples(200, 25)
def test_every_step_and_its_opposite_leave_the_job_as_it_was(steps: list[tuple[object, ...]]) -> None:
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home) / "job"
        folder.mkdir()
        (folder / "job.toml").write_text(JOB)
        for step in steps:
            known = taken_in(folder)
            if len(step) == 5:
                take(folder, *step)  # type: ignore[arg-type]
            elif known:
                place, put_back = step
                sheet = known[int(str(place)) % len(known)].sheets[0]
                before = files_of(folder)
                if turn(folder, sheet, put_back=bool(put_back)):
                    after = files_of(folder)
                    assert turn(folder, sheet, put_back=not put_back)
                    assert files_of(folder) == before
                    assert turn(folder, sheet, put_back=bool(put_back))
                    assert files_of(folder) == after
            offers = [quote for quote in job_folder.job(folder, DAY).quotes if quote.valid_until is None]
            keys = [(quote.supplier, quote.part, quote.condition) for quote in offers]
            assert len(keys) == len(set(keys))
        while any(each.stands for each in taken_in(folder)):
            turn_back(folder)
        assert set(files_of(folder)) <= {"job.toml", register.PLACE}
        assert register.read(folder) == register.Register()
