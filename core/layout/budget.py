"""What a layout may spend: steps that are counted, or time until a moment."""

from __future__ import annotations

import time
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Budget:
    """A moment (time.monotonic()) to be done by, or steps; neither once both are None."""

    until: float | None
    steps: int | None

    @property
    def seconds(self) -> float | None:
        """What is left of the time."""
        return None if self.until is None else max(0.0, self.until - time.monotonic())

    def share(self, part: float) -> Budget:
        """Part of the steps, or of the time that is left from now on."""
        until = None
        if self.until is not None:
            now = time.monotonic()
            until = now + max(0.0, self.until - now) * part
        return Budget(until, self._steps(part))

    def rest(self, part: float) -> Budget:
        """Part of the steps, or all the time that is left."""
        return Budget(self.until, self._steps(part))

    def _steps(self, part: float) -> int | None:
        return None if self.steps is None else max(1, round(self.steps * part))

    def is_over(self) -> bool:
        """True once the moment has passed."""
        return self.until is not None and time.monotonic() >= self.until
