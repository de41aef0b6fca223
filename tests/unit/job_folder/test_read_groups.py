"""What faults say of one another in job.toml: shared causes, borrowed pieces, one check for several."""

from __future__ import annotations

import pytest

HEAD = '[money]\ncap = "100.00"\n'
CAUSES = "causes = { fuse = 1, motor = 2, plug = 1 }\n"
RESULTS = "results = { spins = { fuse = 0.0, motor = 0.0, plug = 1.0 } }\n"


def fault(
    name: str, keys: str = 'twin = "pair"\nshared_causes = ["fuse"]\n', rest: str = "", causes: str = CAUSES
) -> str:
    return f'[[fault]]\nid = "{name}"\nseverity = "minor"\n{keys}{causes}{rest}'


def check(keys: str, results: str = RESULTS, name: str = "k") -> str:
    return f'[[fault.check]]\nid = "{name}"\n{keys}\n{results}'


TWIN = 'twin = "pair"\n'
FUSE = '[[fault.repair]]\nid = "fuse"\ncures = {{ fuse = {} }}\n'
FEED = check('title = "Feed it"\nminutes = 10\ncost = "2.00"', name="feed")
UNLIKE = "results = { turns = { motor = 0.0 }, hums = { motor = 0.5 }, dead = {} }"
L, R, RK, XK = "[[fault]] l", "[[fault]] r", "[[fault]] r, check k", "[[fault]] x, check k"


def shared(left: str, right: str | None = None) -> str:
    return fault("l", TWIN + left) + fault("r", TWIN + (left if right is None else right))


def borrows(what: str, keys: str = 'twin = "pair"\nshared_causes = ["fuse"]\n') -> str:
    return fault("l") + fault("r", keys, check(f"borrows = {what}"))


def same(keys: str, results: str = RESULTS, left: str = FEED, alone: bool = False) -> str:
    group = "" if alone else TWIN
    return fault("l", group, left) + fault("r", group, check(keys, results))


WRONG = [
    (fault("l", 'shared_causes = ["fuse"]\n'), L, "shared_causes", 'write twin = "..."'),
    (shared('shared_causes = ["fuze"]\n'), L, "shared_causes", 'did you mean "fuse"'),
    (shared('shared_causes = ["something-else"]\n'), L, "shared_causes", "each one's own"),
    (shared('shared_causes = ["fuse", "fuse"]\n'), L, "shared_causes", "take it out"),
    (shared('shared_causes = ["fuse", "motor", "plug"]\n'), L, "shared_causes", "leave at least one out"),
    (shared('shared_causes = "fuse"\n'), L, "shared_causes", '["fuse"]'),
    (shared('shared_causes = ["fuse"]\n', ""), R, "shared_causes", 'copy shared_causes from "l"'),
    (shared('shared_causes = ["fuse"]\n', 'shared_causes = ["motor"]\n'), R, "shared_causes", "copy shared_causes"),
    (shared("", "something_else = 0.1\n"), R, "something_else", 'copy something_else from "l"'),
    (fault("l", rest=FUSE.format(0.9)) + fault("r", rest=FUSE.format(0.8)), f"{R}, repair fuse", "cures", "another id"),
    (borrows('{ fault = "l", cause = "moter" }'), RK, "borrows.cause", 'did you mean "motor"'),
    (borrows('{ fault = "l", cause = "fuse" }'), RK, "borrows.cause", "name a cause that is not shared"),
    (borrows('{ fault = "l", cause = "something-else" }'), RK, "borrows.cause", "name that cause"),
    (borrows('{ fault = "r", cause = "motor" }'), RK, "borrows.fault", "twin"),
    (borrows('{ fault = "left", cause = "motor" }'), RK, "borrows.fault", "twin"),
    (borrows('{ fault = "l", cause = "motor" }', ""), RK, "borrows.fault", "twin"),
    (borrows('{ fault = "l" }'), RK, "borrows.cause", "add borrows.cause"),
    (borrows('{ fault = "l", cause = "motor", piece = "x" }'), RK, "piece", "take it out"),
    (borrows('"l"'), RK, "borrows", "{ fault ="),
    (same('same_as = "l.fed"'), RK, "same_as", 'did you mean "l.feed"'),
    (same('same_as = "feed"'), RK, "same_as", "l.feed"),
    (same('same_as = "r.k"'), RK, "same_as", "FAULT.CHECK"),
    (same('same_as = "l.feed"\nminutes = 11'), RK, "minutes", 'that of "l.feed"'),
    (same('same_as = "l.feed"\ncost = "2.50"'), RK, "cost", 'that of "l.feed"'),
    (same('same_as = "l.feed"', UNLIKE), RK, "pairs", "pairs = {"),
    (same('same_as = "l.feed"\npairs = { spin = "spins" }'), RK, "pairs", "pairs = {"),
    (same('pairs = { spins = "spins" }'), RK, "pairs", "same_as"),
    (same('same_as = "l.feed"') + fault("x", "", check('same_as = "r.k"')), XK, "same_as", 'write "l.feed"'),
    (same('same_as = "l.feed"') + check('same_as = "l.feed"', name="again"), RK, "same_as", "take one of them out"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "where", "key", "mend"), WRONG)
def test_every_wrong_use_has_its_place_and_its_mend(bad, text, where, key, mend):
    found = bad(HEAD + text)
    first = found[0]
    assert (first.where, first.key) == (where, key), found
    assert mend in first.mend
    assert all(problem.key == key for problem in found)


def test_all_at_once(bad):
    text = fault("l", 'shared_causes = ["fuze"]\n', check('same_as = "x.y"') + check("pairs = { a = 'b' }", name="two"))
    assert [problem.key for problem in bad(HEAD + text)] == ["shared_causes", "shared_causes", "same_as", "pairs"]


def test_a_group_too_large_for_a_borrowed_piece(bad, good):
    many = "causes = { " + ", ".join(f"c{n} = 1" for n in range(8)) + " }\n"
    row = "results = { spins = { c1 = 0.0 } }\n"
    group = [fault(f"f{n}", TWIN, causes=many) for n in range(5)]
    text = "".join(group) + fault("g", TWIN, check('borrows = { fault = "f0", cause = "c1" }', row), many)
    (problem,) = bad(HEAD + text)
    assert (problem.where, problem.key) == ("[[fault]] f0", "twin")
    assert "531441 combinations" in problem.found
    assert "two groups" in problem.mend
    assert len(good(HEAD + "".join(group)).faults) == 5


def test_a_group_is_read(good):
    job = good(
        HEAD
        + fault("l", rest=FUSE.format(0.9))
        + fault("r", rest=FUSE.format(0.9) + check('borrows = { fault = "l", cause = "motor" }'))
    )
    assert job.faults[0].shared_causes == ("fuse",)
    borrowed = job.faults[1].checks[0].borrows
    assert (borrowed.fault, borrowed.cause) == ("l", "motor")


@pytest.mark.parametrize("said", ["", 'minutes = 10\ncost = "2.00"'])
def test_one_check_is_paid_for_once(good, said):
    """What it takes is an access that both name; what it does not say of itself is the other's."""
    job = good(HEAD + fault("l", "", FEED) + fault("r", "", check(f'same_as = "l.feed"\n{said}', "")))
    (access,) = job.access
    assert (access.id, access.title, access.minutes, access.price_minor, access.is_check) == (
        "check:l.feed",
        "Feed it",
        10,
        200,
        True,
    )
    for one in job.faults:
        (only,) = one.checks
        assert (only.title, only.minutes, only.cost_minor, only.access) == ("Feed it", 0, 0, ("check:l.feed",))
        assert list(only.results) == ["spins"]
    assert job.faults[1].checks[0].pairs == {"spins": "spins", "not-spins": "not-spins"}


def test_results_of_other_names_are_paired(good):
    row = "results = { turns = { motor = 0.0 } }"
    job = good(
        HEAD + fault("l", "", FEED) + fault("r", "", check('same_as = "l.feed"\npairs = { turns = "spins" }', row))
    )
    assert job.faults[1].checks[0].pairs == {"turns": "spins", "not-turns": "not-spins"}


def test_an_access_may_not_take_the_name(bad):
    text = '[[access]]\nid = "check:l.feed"\n' + same('same_as = "l.feed"', alone=True)
    (problem,) = bad(HEAD + text)
    assert problem.where == "[[access]] check:l.feed"
