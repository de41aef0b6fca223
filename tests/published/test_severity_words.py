"""The words for how grave a fault is, against the law that they are taken from.

Source: Directive 2014/45/EU of 3 April 2014 on periodic roadworthiness tests, Official Journal L 127, 29.4.2014, p. 51,
article 7(2): deficiencies found are put into one of three groups, minor, major and dangerous. How far it was seen: the
three words and their meaning were read in secondary copies; the number of the article and the page of the Official
Journal are from memory.
"""

import pytest

from optimiser.model.job import Fault, Severity

GROUPS_OF_ARTICLE_7_2 = ["minor", "major", "dangerous"]
"""In the article's order, (a) to (c), which rises."""


def test_severity_has_the_three_groups_of_the_directive_in_rising_order() -> None:
    assert [severity.value for severity in Severity] == GROUPS_OF_ARTICLE_7_2


@pytest.mark.parametrize("word", GROUPS_OF_ARTICLE_7_2)
def test_a_fault_takes_each_word_as_the_directive_has_it(word: str) -> None:
    assert Fault(id="brakes", severity=word).severity == word


@pytest.mark.parametrize("word", ["advisory", "serious", "fail", "Major"])
def test_a_word_of_another_scheme_is_refused(word: str) -> None:
    with pytest.raises(ValueError, match="severity"):
        Fault(id="brakes", severity=word)
