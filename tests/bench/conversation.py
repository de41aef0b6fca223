"""The speed of a conversation: whole calls as multiples of ``optimiser verify`` of the same job in the same run.

``python -m tests.bench.conversation [JOB] [--fault NAME]``: each call by itself, as a person types it, on a copy of the
job and with a cache of its own; no answer is kept but where that is said. Processor seconds of the call (user), since
machines are seldom quiet.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

EXAMPLES = Path(__file__).parents[2] / "examples"


def taken(words: Sequence[str], folder: Path, environment: Mapping[str, str]) -> float:
    """The processor seconds of one call."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    call = [sys.executable, "-m", "optimiser", *words]
    subprocess.run(call, cwd=folder, env=environment, check=True, capture_output=True)
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before


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
        one = min(taken(["verify"], folder, environment) for _ in range(3))
        print(f"{'verify':28}{one:8.2f} s")
        mixes = Path(beside) / "cache" / "optimiser" / "mixes"
        calls = [
            ("plan, nothing kept", ["plan"]),
            ("the same again", ["plan"]),
            ("plan, its routes kept", ["plan"]),
            (f"compare {asked.fault}", ["compare", asked.fault]),
            ("a finding and its moves", ["found", *asked.found]),
            ("tonight, after it", ["tonight"]),
            ("stretch", ["stretch"]),
            ("report", ["report", "-o", "report.html"]),
            ("the same report again", ["report", "-o", "report.html"]),
            *([("plan --why", ["plan", "--why"])] if asked.why else []),
        ]
        for name, words in calls:
            if not name.endswith(("again", "after it")):
                shutil.rmtree(mixes, ignore_errors=True)
            seconds = taken(words, folder, environment)
            print(f"{name:28}{seconds:8.2f} s{seconds / one:8.1f} times", flush=True)


if __name__ == "__main__":
    main()
