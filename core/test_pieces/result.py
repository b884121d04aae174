"""The result of a test piece as the maker tells it: which was right, and what the slot measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.errors import BadLengthError, InvalidRequestError
from core.project.model import Project
from core.shop import Cutter, JointClass
from core.test_pieces.fits import bit_from_slot, fit_figure, fit_from_test, fit_words
from core.units import format_length, parse_length

_SAME_MM = 0.006  # a figure typed as it is written on the piece, to 0.01 mm, means that fit


@dataclass(frozen=True, slots=True)
class TestResult:
    """What came out. along_mm, across_mm: total play that was right with the joint along and
    across the grain, None where it was not tried. slot_mm: what a slot drawn slot_drawn_mm wide
    measured, None if it was not measured."""

    material: str
    cutter: Cutter
    along_mm: float | None = None
    across_mm: float | None = None
    slot_drawn_mm: float | None = None
    slot_mm: float | None = None
    joint_class: JointClass = JointClass.GLUED

    __test__ = False  # its name would make a test runner collect it

    @property
    def play_mm(self) -> float:
        """The fit from now on: the larger of the two, so that neither way binds.

        Raises InvalidRequestError if neither was tried.
        """
        found = [fit for fit in (self.along_mm, self.across_mm) if fit is not None]
        if not found:
            raise InvalidRequestError(
                "The test piece has no result yet",
                self.material,
                "Say which was right along or across the grain, by its word or its figure.",
            )
        return max(found)

    @property
    def bit_mm(self) -> float | None:
        """The bit's real diameter, None if no slot was measured. Raises InvalidRequestError if
        that would be another bit altogether."""
        if self.slot_mm is None or self.slot_drawn_mm is None:
            return None
        return bit_from_slot(self.cutter, drawn_mm=self.slot_drawn_mm, measured_mm=self.slot_mm)


def keep_result(project: Project, result: TestResult) -> Project:
    """The project with a test piece's result kept for its board, bit and joint class, and used
    as the fit from then on. Raises as :func:`core.test_pieces.fit_from_test`."""
    return fit_from_test(
        project,
        result.material,
        result.cutter,
        result.play_mm,
        result.bit_mm,
        joint_class=result.joint_class,
        along_mm=result.along_mm,
        across_mm=result.across_mm,
    )


def fit_called(text: str, fits_mm: Sequence[float], *, unit: str = "mm") -> float:
    """The play a word or figure on the piece stands for, mm.

    fits_mm: the series on the piece, tightest first. A figure is read as a length in unit; one
    of the series is meant if it is as near as the piece writes it. Raises BadLengthError for a
    word that is not on the piece, a figure that cannot be read or is below zero.

    >>> fit_called("snug", (0.05, 0.1, 0.15, 0.2, 0.25))
    0.1
    """
    words = fit_words(len(fits_mm))
    typed = text.strip()
    for word, fit in zip(words, fits_mm, strict=True):
        if typed.upper() == word:
            return fit
    try:
        value = parse_length(typed, unit)
    except BadLengthError:
        raise BadLengthError(
            f"“{typed[:40]}” is not on the piece",
            "",
            f"Give one of {', '.join(words)}, or the figure beside the one that was right.",
        ) from None
    if value < 0:
        raise BadLengthError(
            f"A fit of {typed[:40]}", "", "Give zero or more; a larger fit is looser."
        )
    near = min(fits_mm, key=lambda fit: abs(fit - value), default=value)
    return near if abs(near - value) <= _SAME_MM else value


def fit_label(fit_mm: float, fits_mm: Sequence[float], *, unit: str = "mm") -> str:
    """ "SNUG 0.10" as it stands on the piece, or the play alone where it is not on it."""
    inches = unit in ("in", "ft", "thou")
    for word, fit in zip(fit_words(len(fits_mm)), fits_mm, strict=True):
        if abs(fit - fit_mm) < 1e-9:
            return f"{word} {fit_figure(fit, inches=inches)}"
    return format_length(fit_mm, "in" if inches else "mm")
