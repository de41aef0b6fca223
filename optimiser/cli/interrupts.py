"""Ctrl-C: answered within two seconds wherever the program is, never between an entry on disk and the word of it.

Python heeds it between two steps of its own, so a solver may keep it waiting for minutes. A thread beside it ends the
program where the usual way takes longer than ``PATIENCE``; what must be said by then is in ``last_words``.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from optimiser.errors import EXIT_INTERRUPTED

PATIENCE = 1.0
"""Seconds that the program has for stopping by itself."""
STOPPED = "stopped\n"
_LOOK = 0.05


class Interrupts:
    """The interrupts of one call of the program."""

    def __init__(self) -> None:
        self.asked = False
        self.last_words = STOPPED
        self._holding = 0
        self._over = False

    @contextmanager
    def watching(self) -> Iterator[None]:
        """Heed Ctrl-C until the end of a call; where nobody may (in a thread, or in the background) nothing changes."""
        self.asked, self.last_words, self._holding, self._over = False, STOPPED, 0, False
        main = threading.current_thread() is threading.main_thread()
        before = signal.getsignal(signal.SIGINT)
        if not main or before in (signal.SIG_IGN, None):
            yield
            return
        reading, writing = os.pipe()
        os.set_blocking(writing, False)
        threading.Thread(target=self._watch, args=(reading,), daemon=True).start()
        woken, hook = signal.set_wakeup_fd(writing, warn_on_full_buffer=False), sys.unraisablehook
        sys.unraisablehook = self._unraisable
        signal.signal(signal.SIGINT, self._asked)
        try:
            yield
        finally:
            signal.signal(signal.SIGINT, before)
            signal.set_wakeup_fd(woken)
            sys.unraisablehook = hook
            # what still runs in other threads would be waited for
            self._over = not self.asked or threading.active_count() <= 2
            os.close(writing)

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold interrupts back until the end: something goes to disk, and whether it did must be said."""
        self._holding += 1
        try:
            yield
        finally:
            self._holding -= 1
        if self.asked and not self._holding:
            raise KeyboardInterrupt

    def say(self, words: str) -> None:
        """Say why the program ends, once."""
        self.last_words = ""
        with suppress(OSError, ValueError):
            sys.stderr.write(words)
            sys.stderr.flush()

    def _asked(self, *_: object) -> None:
        self.asked = True
        if not self._holding:
            raise KeyboardInterrupt

    def _unraisable(self, what: Any) -> None:
        """An interrupt that met a finaliser is lost there, and no traceback is anybody's business."""
        if not issubclass(what.exc_type, KeyboardInterrupt):
            sys.__unraisablehook__(what)

    def _watch(self, reading: int) -> None:
        try:
            while (got := os.read(reading, 1)) and got[0] != signal.SIGINT:
                pass
        finally:
            os.close(reading)
        waited = 0.0
        while got and not self._over:
            time.sleep(_LOOK)
            waited = 0.0 if self._holding else waited + _LOOK
            if waited > PATIENCE and not self._over:
                with suppress(OSError):
                    os.write(2, self.last_words.encode(errors="backslashreplace"))
                os._exit(EXIT_INTERRUPTED)


INTERRUPTS = Interrupts()
