"""Advice played to the end on invented jobs with a hidden truth; see tests/bench/README.md."""
