"""Answers instead of dialogs: a test says beforehand what will be asked."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from typing import Any


class ScriptedAsk:
    """Gives the answers queued per kind of question; a question nobody expected fails."""

    def __init__(self) -> None:
        self._answers: dict[str, deque[Any]] = {}
        self.asked: list[tuple[str, str]] = []
        self.parent: Any = None

    def will(self, kind: str, *answers: Any) -> None:
        """Queue answers to the next questions of that kind (the method's name)."""
        self._answers.setdefault(kind, deque()).extend(answers)

    def _answer(self, kind: str, title: str) -> Any:
        self.asked.append((kind, title))
        queue = self._answers.get(kind)
        assert queue, f"nobody expected to be asked for {kind}: {title}"
        return queue.popleft()

    def open_files(self, title: str, filters: str, *, folder: str = "") -> list[str]:
        """Paths to open."""
        return [str(path) for path in self._answer("open_files", title)]

    def open_file(self, title: str, filters: str, *, folder: str = "") -> str | None:
        """A path to open."""
        answer = self._answer("open_file", title)
        return None if answer is None else str(answer)

    def save_file(self, title: str, filters: str, *, suggestion: str = "") -> str | None:
        """A path to write."""
        answer = self._answer("save_file", title)
        return None if answer is None else str(answer)

    def folder(self, title: str, *, folder: str = "") -> str | None:
        """A folder."""
        answer = self._answer("folder", title)
        return None if answer is None else str(answer)

    def confirm(self, title: str, text: str, *, yes: str, no: str) -> bool:
        """Yes or no."""
        return bool(self._answer("confirm", title))

    def choose(self, title: str, text: str, options: Sequence[str]) -> int | None:
        """Which option."""
        answer = self._answer("choose", title)
        return options.index(answer) if isinstance(answer, str) else answer

    def text(self, title: str, label: str, *, initial: str = "") -> str | None:
        """What is typed."""
        return self._answer("text", title)

    def printer(self, printer: Any, *, pages: int = 0) -> bool:
        """A function that sets the printer up, or False."""
        answer = self._answer("printer", printer.docName())
        if callable(answer):
            answer(printer)
            return True
        return bool(answer)
