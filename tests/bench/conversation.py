"""The speed of a conversation: whole calls as multiples of ``optimiser verify`` of the same job in the same run.

``python -m tests.bench.conversation [JOB] [--fault NAME]``: one call after the other, as a person types them, on a copy
of the job and with a cache of its own. Processor seconds of the call (user), since machines are seldom quiet, and those
of the clock.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

EXAMPLES = Path(__file__).parents[2] / "examples"


class Took(NamedTuple):
    """Seconds of the processors and of the clock."""

    processor: float
    clock: float


def taken(words: Sequence[str], folder: Path, environment: Mapping[str, str]) -> Took:
    """What one call took."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime, time.monotonic()
    call = [sys.executable, "-m", "optimiser", *words]
    subprocess.run(call, cwd=folder, env=environment, check=True, capture_output=True)
    return Took(resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before, time.monotonic() - began)


def main() -> None:
    """Print the table."""
    told = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    told.add_argument("job", nargs="?", type=Path, default=EXAMPLES / "marigold")
    told.add_argument("--fault", default="exhaust", help="the fault whose options are compared")
    told.add_argument("--found", nargs="*", default=["starter", "swap-relay", "cranks"], help="a finding")
    told.add_argument("--why", action="store_true", help="every option and switch point too: minutes")
    asked = told.parse_args()
    with tempfile.TemporaryDirectory() as beside:
        folder = Path(shutil.copytree(asked.job, Path(beside) / "job"))
        environment = {**os.environ, "XDG_CACHE_HOME": str(Path(beside) / "cache"), "PYTHONHASHSEED": "0"}
        runs = [taken(["verify"], folder, environment) for _ in range(5)]
        one = Took(*(min(run[n] for run in runs) for n in range(2)))
        print(f"{'verify':28}{one.processor:8.2f} s{one.clock:16.2f} s on the clock")
        mixes = Path(beside) / "cache" / "optimiser" / "mixes"
        calls = [
            ("plan, nothing kept", ["plan"]),
            ("plan, its routes kept", ["plan"]),
            ("plan, the same again", ["plan"]),
            (f"compare {asked.fault}", ["compare", asked.fault]),
            ("stretch", ["stretch"]),
            ("report", ["report", "-o", "report.html"]),
            ("the same report again", ["report", "-o", "report.html"]),
            ("a finding and its moves", ["found", *asked.found]),
            ("tonight, after it", ["tonight"]),
            ("moved, from the first plan", ["moved", "1"]),
            *([("plan --why", ["plan", "--why"])] if asked.why else []),
        ]
        for name, words in calls:
            if name == "plan, its routes kept":
                shutil.rmtree(mixes, ignore_errors=True)
            took = taken(words, folder, environment)
            times = (f"{seconds:8.2f} s{seconds / whole:6.1f} times" for seconds, whole in zip(took, one, strict=True))
            print(f"{name:28}{''.join(times)}", flush=True)


if __name__ == "__main__":
    main()
