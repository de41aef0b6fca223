"""What a person may get wrong in job.toml, and what they are told."""

from __future__ import annotations

import pytest

M = '[money]\ncap = "100.00"\n'
F = '[[fault]]\nid = "f"\nseverity = "minor"\n'
C = F + "causes = { fuse = 1, motor = 2 }\n"
R = '[[fault.repair]]\nid = "r"\n'
RC = R + "chance = 0.5\n"
K = '[[fault.check]]\nid = "k"\n'
AT_F, AT_R, AT_K = "[[fault]] f", "[[fault]] f, repair r", "[[fault]] f, check k"

KEYS = [
    ("", "[money]", "cap", "add cap"),
    ("[money]\ncap = 'lots'", "[money]", "cap", "digits"),
    ("[money]\ncap = '£5'", "[money]", "cap", "digits"),
    ("[money]\ncap = '5,00'", "[money]", "cap", "digits"),
    ("[money]\ncap = -5", "[money]", "cap", "digits"),
    ("[money]\ncap = nan", "[money]", "cap", "digits"),
    ("[money]\ncap = inf", "[money]", "cap", "digits"),
    ("[money]\ncap = 1.005", "[money]", "cap", "digits"),
    ("[money]\ncap = true", "[money]", "cap", "digits"),
    ("[money]\ncap = ['5']", "[money]", "cap", "digits"),
    (f"[money]\ncap = 0x{'f' * 9000}", "[money]", "cap", "digits"),
    ("[money]\ncap = '5'\ncap_minor = 500", "[money]", "cap_minor", "take it out"),
    ("[money]\ncap = '5'\nspent_minor = 500", "[money]", "spent_minor", 'did you mean "spent"'),
    ("[money]\ncap = '5'\nspnt = 500", "[money]", "spnt", 'did you mean "spent"'),
    ("[[money]]\ncap = '5'", "[money]", "", "write [money]"),
    ("money = 5", "[money]", "", "write [money]"),
    (M + "[tiem]\nhours = 3", "", "tiem", 'did you mean "time"'),
    (M + "[job]\ncurrency = 'GBX'", "[job]", "currency", "did you mean"),
    (M + "[job]\ncurrency = 'gbp'", "[job]", "currency", 'did you mean "GBP"'),
    (M + "[job]\ncurrency = 3", "[job]", "currency", "text"),
    (M + "[job]\nsafety_first = 'yes'", "[job]", "safety_first", "true or false"),
    (M + "[job]\nsafety_first = 1", "[job]", "safety_first", "true or false"),
    (M + "[job]\naim = 'profits'", "[job]", "aim", 'did you mean "profit"'),
    (M + "[job]\ngood_enough = 1.01", "[job]", "good_enough", "0.9"),
    (M + "[job]\ngood_enough = true", "[job]", "good_enough", "0.9"),
    (M + "[job]\ntoday = 20261124", "[job]", "today", "2026-11-24"),
    (M + "[job]\ntoday = 0", "[job]", "today", "2026-11-24"),
    (M + "[job]\ntoday = '86400'", "[job]", "today", "2026-11-24"),
    (M + "[job]\ntoday = 2026-11-24T00:00:00", "[job]", "today", "2026-11-24"),
    (M + "[job]\ntoday = '24/11/2026'", "[job]", "today", "2026-11-24"),
    (M + "[job]\nlicensed = 'gas'", "[job]", "licensed", '["gas"]'),
    (M + "[job]\nlicensed = ['gass']", "[job]", "licensed", 'did you mean "gas"'),
    (M + "[time]\nhours = true", "[time]", "hours", "24.0"),
    (M + "[time]\nhours = -1", "[time]", "hours", "24.0"),
    (M + "[time]\nhours = nan", "[time]", "hours", "24.0"),
    (M + "[time]\nhours = 1e400", "[time]", "hours", "24.0"),
    (M + "[solve]\nsolver = 'cbs'", "[solve]", "solver", 'did you mean "cbc"'),
    (M + "[solve]\nseconds = 0", "[solve]", "seconds", "60"),
    (M + "[access]\nid = 'a'", "[[access]]", "", "double brackets"),
    ("[access]\nid = 'a'\n" + M + F + RC + "access = ['a']", "[[access]]", "", "double brackets"),
    ("job = 3\n[money]\ncap = '1.2345'", "[job]", "", "write [job]"),
    (M + "access = ['a']", "[money]", "access", "take it out"),
    (M + "[[access]]\nminutes = 3", "[[access]] number 1", "id", "add a title, or an id"),
    (M + "[[access]]\ntitle = '!!!'", "[[access]] number 1", "id", "add a title, or an id"),
    (M + "[[access]]\ntitle = 3", "[[access]] untitled", "title", "text"),
    (M + "[[access]]\nid = 'a'\nminutes = 1.5", "[[access]] a", "minutes", "whole number"),
    (M + "[[access]]\nid = 'a'\nminutes = 1000001", "[[access]] a", "minutes", "whole number"),
    (M + '[[access]]\nid = "a\\nb"', "[[access]] a\\nb", "id", "short name"),
    (M + "[[access]]\nid = 'a '", "[[access]] a ", "id", "short name"),
    (M + '[[access]]\nid = "a\\u001b[31m"', "[[access]] a\\x1b[31m", "id", "short name"),
    (M + "[[access]]\nid = ''", "[[access]] number 1", "id", "short name"),
    (M + "[[part]]\nid = 'p'\nrenew_in = 0", "[[part]] p", "renew_in", "whole number"),
    (M + "[[part]]\nid = 'p'\nrenew_in = true", "[[part]] p", "renew_in", "whole number"),
    (M + "[[part]]\nid = 'p'\nkind = 'frictoin'", "[[part]] p", "kind", 'did you mean "friction"'),
    (M + "[[part]]\nid = 'p'\nkind = 'restraint'\nnever_salvage = false", "[[part]] p", "never_salvage", "take"),
    (M + "[[part]]\nid = 'p'\n[[owned]]\npart = 'p'\ncondition = 'used'", "[[owned]] p", "condition", "words"),
    (M + "[[part]]\nid = 'p'\n[[owned]]\npart = 'p'\ncondition = 3", "[[owned]] p", "condition", "words"),
    (M + "[[part]]\nid = 'p'\n[[owned]]\npart = 'p'", "[[owned]] p", "condition", "add condition"),
    (M + "[[part]]\nid = 'brake-disc'\n[[owned]]\npart = 'brake-disk'\ncondition = 'new'",
     "[[owned]] brake-disk", "part", 'did you mean "brake-disc"'),
    (M + "[[owned]]\ncondition = 'new'", "[[owned]] number 1", "part", "add part"),
    (M + "[fault]\nid = 'f'", "[[fault]]", "", "double brackets"),
    (M + "[[fault]]\nid = 'f'", AT_F, "severity", "add severity"),
    (M + F.replace("minor", "sever"), AT_F, "severity", "words"),
    (M + F + "importance = 0", AT_F, "importance", "1.0"),
    (M + F + "importance = 1001", AT_F, "importance", "1.0"),
    (M + F + "something_else = 1", AT_F, "something_else", "0.05"),
    (M + F + "sale_gain = '1.234'", AT_F, "sale_gain", "digits"),
    (M + F + "system = 'airbgs'", AT_F, "system", 'did you mean "airbag"'),
    (M + F + "causes = { fuse = 0 }", AT_F, "causes.fuse", "ruled out"),
    (M + F + "causes = { fuse = -1 }", AT_F, "causes.fuse", "ruled out"),
    (M + F + "causes = { fuse = true }", AT_F, "causes.fuse", "ruled out"),
    (M + F + "causes = { fuse = inf }", AT_F, "causes.fuse", "ruled out"),
    (M + F + "causes = ['fuse']", AT_F, "causes", "table"),
    (M + F + "causes = { something-else = 1 }", AT_F, "causes.something-else", "something_else ="),
    (M + F + "causes = { default = 1 }", AT_F, "causes.default", "another word"),
    (M + F + 'causes = { "a\\tb" = 1 }', AT_F, "causes.a\\tb", "short name"),
    (M + F + R, AT_R, "chance", "write chance"),
    (M + C + RC + "cures = { motor = 1 }", AT_R, "chance", "write chance"),
    (M + C + R + "cures = {}", AT_R, "cures", "take the repair out"),
    (M + C + R + "cures = { motr = 1 }", AT_R, "cures.motr", 'did you mean "motor"'),
    (M + C + R + "cures = { motor = 1.5 }", AT_R, "cures.motor", "0.9"),
    (M + F + R + "cures = { motor = 1 }", AT_R, "cures", "[fault.causes]"),
    (M + F + R + "chance = '90%'", AT_R, "chance", "0.9"),
    (M + F + RC + "parts = { p = 0 }", AT_R, "parts.p", "whole number"),
    (M + F + RC + "parts = ['p']", AT_R, "parts", "table"),
    (M + F + RC + "by = 'me'", AT_R, "by", "words"),
    (M + F + RC + "access = 'dash'", AT_R, "access", '["dash-lower"]'),
    (M + F + RC + "access = [3]", AT_R, "access", "short name"),
    (M + F + RC + "access = ['dsh']\n[[access]]\nid = 'dash'", AT_R, "access", 'did you mean "dash"'),
    (M + F + RC + RC, AT_R, "id", "id of its own"),
    (M + F + "[fault.repair]\nid = 'r'", "[[fault]] f, repair", "", "write [[fault.repair]]"),
    (M + C + K, AT_K, "results", "add results"),
    (M + C + K + "results = {}", AT_K, "results", "at least one result"),
    (M + C + K + "results = { spins = 1 }", AT_K, "results.spins", "table"),
    (M + C + K + "results = { spins = { fuse = 2 } }", AT_K, "results.spins.fuse", "0.9"),
    (M + C + K + "results = { spins = { fus = 1 } }", AT_K, "results.spins.fus", 'did you mean "fuse"'),
    (M + C + K + "results = { a = { fuse = 0.5 }, b = { fuse = 0.6, motor = 1 } }", AT_K, "results", "correct"),
    (M + C + K + "results = { a = { default = 0.9 }, b = { default = 0.2 } }", AT_K, "results", "correct"),
    (M + C + K + "cost = 'x'\nresults = { a = { fuse = 0.5 } }", AT_K, "cost", "digits"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "where", "key", "mend"), KEYS)
def test_one_mistake_one_problem(bad, text, where, key, mend):
    (problem,) = bad(text)
    assert (problem.file, problem.where, problem.key) == ("job.toml", where, key)
    assert mend in problem.mend
    assert problem.found
    assert problem.expected


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("[[fault]]\ntitle = 'A b'\nseverity = 'minor'\n[[fault]]\nid = 'a-b'\nseverity = 'minor'\n", '"A b"'),
        ("[[part]]\ntitle = 'Front disc'\n[[part]]\ntitle = 'front  DISC'\n", '"front  DISC"'),
        ("[[access]]\nid = 'x'\n[[access]]\nid = 'x'\n", '"x"'),
    ],
)
def test_a_clash_names_both(bad, text, places):
    (problem,) = bad(M + text)
    assert problem.key == "id"
    assert problem.found.count('"') == 6
    assert places in problem.found


@pytest.mark.parametrize(
    ("second", "key"),
    [
        ("causes = { a = 1, b = 2 }\n", "causes"),
        ("causes = { a = 1 }\n", "causes"),
        ("causes = { a = 1, b = 1 }\nsomething_else = 0.1\n", "something_else"),
    ],
)
def test_twins_are_alike(bad, second, key):
    first = '[[fault]]\nid = "l"\nseverity = "minor"\ntwin = "t"\ncauses = { a = 1, b = 1 }\n'
    (problem,) = bad(M + first + '[[fault]]\nid = "r"\nseverity = "major"\ntwin = "t"\n' + second)
    assert (problem.where, problem.key) == ("[[fault]] r", key)
    assert '"l"' in problem.found


@pytest.mark.parametrize("total", ["0.4981", "0.5019"])
def test_columns_that_sum_to_one_within_the_tolerance(good, total):
    check = f"results = {{ a = {{ fuse = 0.5, motor = 0.5 }}, b = {{ fuse = {total}, motor = 0.5 }} }}\n"
    assert good(M + C + K + check).faults[0].checks


@pytest.mark.parametrize("total", ["0.497", "0.503"])
def test_columns_that_do_not_sum_to_one(bad, total):
    check = f"results = {{ a = {{ fuse = 0.5, motor = 0.5 }}, b = {{ fuse = {total}, motor = 0.5 }} }}\n"
    (problem,) = bad(M + C + K + check)
    assert '"fuse"' in problem.found


def test_all_problems_at_once_and_none_that_follow_from_another(bad):
    text = (
        "[job]\ncurrency = 'KWT'\n[money]\ncap = '1.234'\n"
        "[[access]]\nid = 'dash'\nminutes = -1\n"
        "[[part]]\nid = 'p'\nrenew_in = 0\n[[owned]]\npart = 'p'\ncondition = 'new'\n"
        "[[fault]]\nid = 'f'\ncauses = { fuse = 0, motor = 1 }\n"
        "[[fault.check]]\nid = 'k'\naccess = ['dash']\nminutes = true\nresults = { a = { fuse = 1 } }\n"
        "[[fault.repair]]\nid = 'r'\ncures = { fuse = 1, motr = 1 }\naccess = ['dash']\n"
        "[[fault.repair]]\nid = 's'\ncures = { fuse = 2 }\n"
    )
    assert [(p.where, p.key) for p in bad(text)] == [
        ("[job]", "currency"),
        ("[[access]] dash", "minutes"),
        ("[[part]] p", "renew_in"),
        ("[[fault]] f", "severity"),
        ("[[fault]] f", "causes.fuse"),
        ("[[fault]] f, check k", "minutes"),
        ("[[fault]] f, repair s", "cures.fuse"),
        ("[[fault]] f, repair r", "cures.motr"),
    ]


def test_a_part_that_only_an_unsound_row_names_is_no_second_problem(bad):
    owned = "[[part]]\nid = 'brake-disk'\n[[owned]]\npart = 'brake-disc'\ncondition = 'new'\n"
    (problem,) = bad(M + owned, {"quotes.csv": "part,supplier,condition,price\nbrake-disc,s,new,free\n"})
    assert problem.file == "quotes.csv"


BROKEN = [
    ("[money]\ncap = \n", "line 2", "quotation marks"),
    ("[money]\ncap = lots\n", "line 2", "quotation marks"),
    ("[money]\ncap = '5'\ncap = '6'\n", "line 3", "keep one"),
    ("[money]\ncap = '5'\n[money]\nspent = '6'\n", "line 3", "already"),
    ("[money\ncap = '5'\n", "line 1", "close the bracket"),
    ("[money]\ncap = '5\n", "line 3", "close the quotation marks"),
    ("[money]\ncap = '5\nspent = '6'\n", "line 2", "close the quotation marks"),
    ('[money]\ncap = "5\nspent = "6"\n', "line 2", "close the quotation marks"),
    ("[money]\ncap = ['5'\n", "line 3", "close the bracket"),
    ("[money]\ncap '5'\n", "line 2", "key = value"),
    ('[money]\ncap = "\\q"\n', "line 2", "backslash"),
    ("[job]\ntoday = 2026-02-30\n", "line 2", ""),
    ("[money]\ncap = '5' spent = '6'\n", "line 2", "one key = value"),
    ("x = " + "[" * 9000, "", "brackets"),
    ("[money]\nx = " + "1" * 9000, "line 2", "correct the number"),
    ("[money]\n" + "a." * 40 + "a = 1", "line 2", "take this key out"),
    ("[money]\n# " + "x" * 30_000, "line 2", "several lines"),
]


@pytest.mark.parametrize(("text", "line", "mend"), BROKEN)
def test_broken_toml_says_where_it_breaks(bad, text, line, mend):
    (problem,) = bad(text)
    assert problem.file == "job.toml"
    assert problem.where.split(",")[0] == line
    assert mend in problem.mend


def test_wrong_encoding_says_at_which_line(bad):
    (problem,) = bad(b"[money]\ncap = '5'\n# caf\xe9\n")
    assert (problem.where, problem.expected) == ("line 3", "UTF-8")
    assert "save it again as UTF-8" in problem.mend


def test_two_bytes_a_sign(bad):
    (problem,) = bad(M.encode("utf-16"))
    assert problem.found == "text saved as UTF-16"


def test_a_job_file_of_ten_million_bytes(bad):
    (problem,) = bad(M + "#\n" * 5_000_000)
    assert "at most 4 million bytes" in problem.expected


def test_no_words_of_pydantic_leak(bad):
    for text in (text for text, *_ in KEYS[1:]):
        for problem in bad(text):
            told = " ".join((problem.found, problem.expected, problem.mend)).lower()
            assert not any(word in told for word in ("input should", "valid", "value error", "dictionary", "unable to"))
            assert told.isprintable()
