"""Lanes of work beside the server: each does what is most wanted of it next, in worker processes.

A lane is a thread that asks for its next batch and hands it to worker processes. Lanes run beside
each other, so that what one decision touched need not wait for a delivery of a thousand.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from pressworthy.values.faults import SetupError
from pressworthy.values.words import what_broke


class Lane:
    """Calls `work` again and again, as long as it returns True; then waits to be woken.

    trouble: is told in words what broke, upon which the lane waits too.
    """

    def __init__(self, name: str, work: Callable[[], bool], trouble: Callable[[str], None]) -> None:
        self._work, self._trouble = work, trouble
        self._wanted = threading.Event()
        self._ended = False
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self) -> None:
        self._thread.start()

    def wake(self) -> None:
        """Let it look for work."""
        self._wanted.set()

    def end(self) -> None:
        """Let it come to an end, after what it is at."""
        self._ended = True
        self._wanted.set()

    @property
    def ended(self) -> bool:
        return self._ended

    def _run(self) -> None:
        while not self._ended:
            self._wanted.wait()
            self._wanted.clear()
            try:
                while not self._ended and self._work():
                    pass
            except SetupError as error:
                self._trouble(str(error))
            except Exception as error:
                self._trouble(f"pressworthy itself failed: {what_broke(error)}")
