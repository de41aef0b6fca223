"""What is put into ``job.toml`` by the program moves nothing else in it, and what is written otherwise is refused."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.errors import CallError
from optimiser.job_folder import with_cap, with_repair
from tests.effort import examples

JOB = '''[job]
title = "Box"   # a trailer
[money]
cap = "260.00"   # the whole pot
purchase = "140.00"

# The first fault.
[[fault]]
title = "Lamp dead"

  [[fault.repair]]
  id = "bulb"
  price = "2.00"

# Two tables of one name stand apart.
[[access]]
id = "floor"

[[fault]]
title = "Drawbar bent"
note = """
[[fault]]
a line that looks like a table
"""

# The end.
'''
WAY = {"id": "weld", "title": 'Smith "by the weir" welds it', "chance": 0.9, "price": "60.00", "by": "workshop"}


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_a_way_comes_behind_those_that_its_fault_has(newline: str) -> None:
    text = JOB.replace("\n", newline)
    after = with_repair(text, 0, WAY)
    added = after[len(text) :] if after.startswith(text) else None
    assert added is None
    rows = ["[[fault.repair]]", 'id = "weld"', 'title = "Smith \\"by the weir\\" welds it"', "chance = 0.9",
            'price = "60.00"', 'by = "workshop"']  # fmt: skip
    put_in = newline + "".join(f"  {row}{newline}" for row in rows)
    behind = f'  price = "2.00"{newline}'
    assert after == text.replace(behind, behind + put_in)


def test_a_fault_without_any_way_gets_its_first_one() -> None:
    text = JOB.replace("[[fault]]\na line", "a line")
    read = tomllib.loads(with_repair(text, 1, WAY))
    assert read["fault"][1]["repair"] == [WAY]
    assert read["fault"][0] == tomllib.loads(text)["fault"][0]
    assert with_repair(text.removesuffix("\n# The end.\n").rstrip(), 1, WAY).endswith('by = "workshop"\n')


@pytest.mark.parametrize(
    "text",
    [
        JOB,  # the second fault is not where its name seems to stand
        'fault = [{title = "Lamp dead"}, {title = "Drawbar bent"}]\n',
        '[[fault]]\ntitle = "a"\n[[fault]]\ntitle = "b"\nrepair = [{id = "bulb"}]\n',
        '[[fault]]\ntitle = "only one"\n',
    ],
)
def test_what_is_written_otherwise_is_left_to_a_person(text: str) -> None:
    with pytest.raises(CallError, match="by hand"):
        with_repair(text, 1, WAY)


def test_the_pot_alone_changes() -> None:
    assert with_cap(JOB, "300.50") == JOB.replace('"260.00"', '"300.50"')
    assert with_cap("[money]\ncap=260 # all\n", "300.50") == '[money]\ncap="300.50" # all\n'
    odd = "[ money ] # what there is\n  cap = '1.00'\n[other]\ncap = 5\n"
    assert with_cap(odd, "2.00") == odd.replace("'1.00'", '"2.00"')


@pytest.mark.parametrize(
    "text", ["[job]\n", 'money = {cap = "1.00"}\n', 'money.cap = "1.00"\n', '[money]\n"cap" = 1\n']
)
def test_a_pot_that_is_written_otherwise_is_left_to_a_person(text: str) -> None:
    with pytest.raises(CallError, match="by hand"):
        with_cap(text, "2.00")


PIECES = st.lists(
    st.sampled_from(
        ['[[fault]]\ntitle = "a"\n', '  [[fault.repair]]\n  id = "x"\n', "# a remark\n", "\n", '[[part]]\nid = "p"\n',
         "[[fault.check]]\nid = 'c'\n", "[fault.check.results]\nyes = {}\n", 'note = "[[fault]]"\n',
         'more = """\n[[fault]]\n"""\n']
    ),
    max_size=12,
)  # fmt: skip


@given(PIECES, st.integers(0, 3))
@examples(400)
def test_whatever_stands_there_the_change_is_made_alone_or_refused(pieces: list[str], place: int) -> None:
    text = "".join(pieces)
    try:
        before = tomllib.loads(text)
        faults = before.get("fault", [])
        after = with_repair(text, place, WAY)
    except tomllib.TOMLDecodeError:
        return
    except CallError:
        return
    faults[place].setdefault("repair", []).append(WAY)
    assert tomllib.loads(after) == before
    kept, left = text.splitlines(), iter(after.splitlines())
    assert all(line in left for line in kept)
