"""Shows beside the times what each benchmark found out: proofs, gaps, ratios, memory."""

from __future__ import annotations


def pytest_terminal_summary(terminalreporter, config) -> None:
    for done in getattr(getattr(config, "_benchmarksession", None), "benchmarks", ()):
        if done.extra_info:
            terminalreporter.line(f"{done.name}: " + ", ".join(f"{k} {v}" for k, v in done.extra_info.items()))
