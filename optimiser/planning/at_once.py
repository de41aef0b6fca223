"""Questions that do not wait for each other, asked in threads: solvers run outside Python's lock."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from typing import TypeVar

Answer = TypeVar("Answer")


def at_once(
    questions: Iterable[Callable[[], Answer]], answered: Callable[[int, int], None] = lambda _, __: None
) -> list[Answer]:
    """The answers in the order of their questions; ``answered`` is told how many of how many there are.

    Raises what a question raises, once those under way are done.
    """
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        try:
            asked: list[Future[Answer]] = [pool.submit(question) for question in questions]
            for done, _ in enumerate(as_completed(asked), start=1):
                answered(done, len(asked))
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise
    return [each.result() for each in asked]
