"""``python -m tests.bench.played --jobs 200``: play, and print the table."""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.bench.played import policies
from tests.bench.played.running import Task, read_back, run, table
from tests.bench.played.story import told


def main() -> None:
    """Take the words apart and play."""
    words = argparse.ArgumentParser(prog="python -m tests.bench.played")
    words.add_argument("--jobs", type=int, default=200, help="how many random jobs")
    words.add_argument("--first", type=int, default=0, help="seed of the first of them")
    words.add_argument("--worlds", type=int, default=2, help="hidden truths a job")
    words.add_argument("--off", type=float, default=0.0, help="typed chances are off by so much log-odds")
    words.add_argument("--examples", nargs="*", help="shipped examples in place of random jobs")
    words.add_argument("--only", nargs="*", help="policies whose names begin so")
    words.add_argument("--no-safety", action="store_true", help="safety first off")
    words.add_argument("--uncertified", action="store_true", help="follow plans that their certificate refuses, too")
    words.add_argument("--seconds", type=float, default=5.0, help="limit of each search")
    words.add_argument("--processes", type=int, default=2)
    words.add_argument("--out", type=Path, help="a file for every job as a line of JSON")
    words.add_argument("--read", type=Path, help="print the table of a file that --out wrote, and play nothing")
    words.add_argument("--tell", type=int, help="tell one world of the job --first, step by step, by --only")
    said = words.parse_args()
    names = tuple(n for n in policies.POLICIES if not said.only or any(n.startswith(word) for word in said.only))
    wanted = said.examples if said.examples else range(said.first, said.first + said.jobs)
    tasks = [
        Task(job, said.worlds, said.off, names, not said.no_safety, said.seconds, not said.uncertified)
        for job in wanted
    ]
    if said.tell is not None:
        print(*told(tasks[0], said.tell), sep="\n")
        return
    if said.read is not None:
        print(table(read_back(said.read.read_text().splitlines())))
        return
    print(table(run(tasks, said.processes, said.out)))


if __name__ == "__main__":
    main()
