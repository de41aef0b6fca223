"""Published instances of choosing within a budget: data and answers as printed, each with its source.

``seen``: data and answer were read in a copy of the source. ``memory``: the answer (or the data too) is from memory of
the named book. Every answer here was reproduced by trying all sets, a dynamic program or an integer program at gap 0.
"""

from __future__ import annotations

from typing import NamedTuple


class Knapsack(NamedTuple):
    """Items with one weight and one profit each; ``chosen`` (counted from 1) where the best set is published."""

    capacity: int
    weights: list[int]
    profits: list[int]
    best: int
    chosen: set[int] | None = None


def _numbers(text: str) -> list[int]:
    return [int(word) for word in text.split()]


BURKARDT = {
    "P01": Knapsack(165, _numbers("23 31 29 44 53 38 63 85 89 82"), _numbers("92 57 49 68 60 43 67 84 87 72"),
                    309, {1, 2, 3, 4, 6}),
    "P02": Knapsack(26, [12, 7, 11, 8, 9], [24, 13, 23, 15, 16], 51, {2, 3, 4}),
    "P03": Knapsack(190, [56, 59, 80, 64, 75, 17], [50, 50, 64, 46, 50, 5], 150, {1, 2, 5}),
    "P04": Knapsack(50, [31, 10, 20, 19, 4, 3, 6], [70, 20, 39, 37, 7, 5, 10], 107, {1, 4}),
    "P05": Knapsack(104, [25, 35, 45, 5, 25, 3, 2, 2], [350, 400, 450, 20, 70, 8, 5, 5], 900, {1, 3, 4, 5, 7, 8}),
    "P06": Knapsack(170, [41, 50, 49, 59, 55, 57, 60], [442, 525, 511, 593, 546, 564, 617], 1735, {2, 4, 7}),
    "P07": Knapsack(750, _numbers("70 73 77 80 82 87 90 94 98 106 110 113 115 118 120"),
                    _numbers("135 139 149 150 156 163 173 184 192 201 210 214 221 229 240"),
                    1458, {1, 3, 5, 7, 8, 9, 14, 15}),
    "P08": Knapsack(
        6404180,
        _numbers("382745 799601 909247 729069 467902 44328 34610 698150 823460 903959 853665 551830 610856 670702"
                 " 488960 951111 323046 446298 931161 31385 496951 264724 224916 169684"),
        _numbers("825594 1677009 1676628 1523970 943972 97426 69666 1296457 1679693 1902996 1844992 1049289 1252836"
                 " 1319836 953277 2067538 675367 853655 1826027 65731 901489 577243 466257 369261"),
        13549094, {1, 2, 4, 5, 6, 10, 11, 13, 16, 22, 23, 24}),
}  # fmt: skip
"""J. Burkardt, "KNAPSACK_01: Data for the 01 Knapsack Problem", data-set page, Florida State University, with the
optimal selections; those of P01 to P07 are unique. Seen."""

SINGLES = {
    # R package adagio, manual page of mknapsack, example 1. Seen
    "adagio": Knapsack(102, [2, 20, 20, 30, 40, 30, 60, 10], [15, 100, 90, 60, 40, 15, 10, 1], 280),
    # the knapsack sample of Google OR-Tools; four items weigh nothing. Seen
    "or-tools": Knapsack(
        850,
        _numbers("7 0 30 22 80 94 11 81 70 64 59 18 0 36 3 8 15 42 9 0 42 47 52 32 26 48 55 6 29 84 2 4 18 56 7 29 93"
                 " 44 71 3 86 66 31 65 0 79 20 65 52 13"),
        _numbers("360 83 59 130 431 67 230 52 93 125 670 892 600 38 48 147 78 256 63 17 120 164 432 35 92 110 22 42 50"
                 " 323 514 28 87 73 78 15 26 78 210 36 85 189 274 43 33 10 19 389 276 312"),
        7534),
    # Fourer, Gay, Kernighan, AMPL, exercise 20-4(a); answer in the solution notes of Cornell ORIE 3300, 2010. Seen
    "ampl": Knapsack(100, [55, 50, 40, 35, 30, 30, 15, 15, 10, 5],
                     [1000, 800, 750, 700, 600, 550, 250, 200, 200, 150], 2000),
    # GAMS model library, knapsack, after Kellerer, Pferschy, Pisinger, Knapsack Problems, 2004, p. 3. Data seen,
    # answer from memory
    "gams": Knapsack(269, [95, 4, 60, 32, 23, 72, 80, 62, 65, 46], [55, 10, 47, 5, 4, 50, 8, 61, 85, 87], 295),
    # LINDO/LINGO on-line help, sample knapsack. Data seen; no published answer was, 38 is by trying all sets
    "lindo": Knapsack(15, [1, 3, 4, 3, 3, 1, 5, 10], [2, 9, 3, 8, 10, 6, 4, 10], 38),
}  # fmt: skip

STOCKCO = Knapsack(14, [5, 7, 4, 3], [16, 22, 12, 8], 42, {2, 3, 4})
"""W. L. Winston, Operations Research, section 9.2 (Stockco). Data seen, answer from memory."""

LORIE_SAVAGE = Knapsack(50, [12, 54, 6, 6, 30, 6, 48, 36, 18], [14, 17, 17, 15, 40, 12, 14, 10, 12], 70,
                        {1, 3, 4, 6, 9})  # fmt: skip
LORIE_SAVAGE_SECOND_YEAR = (20, [3, 7, 6, 2, 35, 6, 4, 3, 3])
"""J. H. Lorie, L. J. Savage, "Three problems in rationing capital", Journal of Business 28(4), 1955; in whole projects
by H. M. Weingartner, 1963. Data seen, answer from memory; unique."""

WEINGARTNER = Knapsack(
    600,
    _numbers("45 0 85 150 65 95 30 0 170 0 40 25 20 0 0 25 0 0 25 0 165 0 85 0 0 0 0 100"),
    _numbers("1898 440 22507 270 14148 3100 4650 30800 615 4975 1160 4225 510 11880 479 440 490 330 110 560 24355 2885"
             " 11748 4550 750 3720 1950 10500"),
    141278)  # fmt: skip
WEINGARTNER_SECOND_BUDGET = (
    600,
    _numbers("30 20 125 5 80 25 35 73 12 15 15 40 5 10 10 12 10 9 0 20 60 40 50 36 49 40 19 150"),
)
"""H. M. Weingartner, D. N. Ness, Operations Research 15, 83-103, 1967 (WEING1); optimum as printed in the TOMLAB test
set. Seen."""

MEDICAL_TEAMS = (5, [[45, 70, 90, 105, 120], [20, 45, 75, 110, 150], [50, 70, 80, 100, 130]], 170, [1, 3, 1])
"""Hillier & Lieberman, Introduction to Operations Research, dynamic programming, "distributing medical teams to
countries": teams, the gain of each country by number of teams, best gain, teams of each. From memory; unique."""

SCIENTISTS = (2, [[0.40, 0.20, 0.15], [0.60, 0.40, 0.20], [0.80, 0.50, 0.30]], 0.060, [1, 0, 1])
"""Same chapter, "distributing scientists to research teams": scientists, the chance that each team fails with 0, 1, 2
more of them, least chance that all fail, scientists of each. Numbers from memory; unique."""

REDUNDANCY = (
    10,
    [[(0.6, 1), (0.8, 2), (0.9, 3)], [(0.7, 3), (0.8, 5), (0.9, 6)], [(0.5, 2), (0.7, 4), (0.9, 5)]],
    0.504,
    [2, 1, 3],
)
"""H. A. Taha, Operations Research, dynamic programming, reliability of a device of three parts: money, reliability and
cost of 1, 2, 3 units of each part, best product, units of each. Data seen, answer from memory; unique. The sum of the
three reliabilities is greatest (2.4) for the same choice: computed, not published."""

SEVERAL_SACKS = [
    ([103, 156], _numbers("18 9 23 20 59 61 70 75 76 30"), _numbers("78 35 89 36 94 75 74 79 80 16"), 452),
    ([65, 85], [40, 60, 30, 40, 20, 5], [110, 150, 70, 80, 30, 5], 345),
]
"""S. Martello, P. Toth, "Algorithm 632", ACM TOMS 11(2), 135-140, 1985, as printed in the manual page of R package
adagio: capacities, weights, profits, best profit. Seen."""

ASSIGNMENT = (
    [91, 87, 109, 88, 64],
    [_numbers(row) for row in ("95 1 21 66 59", "54 53 44 26 60", "3 91 43 42 5", "72 30 56 72 9", "44 1 71 13 27",
                               "20 99 87 52 85", "72 96 97 73 49", "75 82 83 44 59", "68 8 87 74 4", "69 83 98 88 45")],
    [_numbers(row) for row in ("110 16 25 78 59", "65 69 54 28 71", "19 93 45 45 9", "89 31 72 83 20", "62 17 77 18 39",
                               "37 115 87 59 97", "89 102 98 74 61", "78 96 87 55 77", "74 27 99 91 5",
                               "88 97 99 99 51")],
    545)  # fmt: skip
"""L. A. Wolsey, Integer Programming, 1998, section 9.6, generalised assignment: capacities of five machines, weights
and profits of ten jobs on each, best profit. Seen."""

TEN_BOOKS = {
    "english": _numbers("13 19 16 19 19 18 17 16 15 14"),
    "math": _numbers("18 13 17 14 15 16 15 17 18 17"),
    "french": _numbers("17 14 13 17 16 18 16 17 18 17"),
    "history": _numbers("19 18 17 13 16 15 15 16 17 14"),
    "art": _numbers("16 14 17 18 13 16 15 16 17 16"),
    "geography": _numbers("17 17 16 14 15 13 16 17 18 16"),
    "biology": _numbers("17 14 16 17 15 16 13 18 19 17"),
    "physics": _numbers("17 16 15 14 17 16 15 13 15 15"),
    "chemistry": _numbers("15 15 16 18 17 15 16 15 13 14"),
    "music": _numbers("16 14 16 18 17 17 15 16 18 13"),
}
"""solve.club, problem "Optimal Internet shopping": prices of ten textbooks in shops 1 to 10, delivery 4 in each. The
published answer is 149. Seen."""
