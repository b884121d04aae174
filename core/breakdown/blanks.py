"""Patterns of saw cuts that turn a full sheet into blanks for the router.

A blank is what is laid on the machine: no larger than its table, no heavier than one person
lifts, within the planer's limits if the board is to be planed. Pieces are nested in blanks later
and elsewhere; here are the patterns to choose from.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.breakdown.freeing import pattern_for
from core.breakdown.model import Blank, Rect, SawCut, letter
from core.errors import InvalidRequestError
from core.tolerances import SAW_TOL_MM


@dataclass(frozen=True, slots=True)
class PlanerLimits:
    """What a thickness planer takes, mm.

    widest_mm: across the feed. shortest_mm: along the feed, or the rollers lose the board.
    snipe_mm: cut too deep at each end of the feed; the blank is longer by that at both ends.
    feed: the way of the sheet that runs through the planer, "x", "y" (along the grain, as a
    rule) or "either".
    """

    widest_mm: float
    shortest_mm: float = 0.0
    snipe_mm: float = 0.0
    feed: str = "either"

    def __post_init__(self) -> None:
        if self.feed not in ("x", "y", "either"):
            raise InvalidRequestError(
                f"Feed direction is {self.feed!r}", "planer", 'Give "x", "y" or "either".'
            )

    def takes(self, width_mm: float, height_mm: float) -> bool:
        """True if a blank of this size goes through the planer."""
        ways = {"x": ((width_mm, height_mm),), "y": ((height_mm, width_mm),)}.get(
            self.feed, ((width_mm, height_mm), (height_mm, width_mm))
        )
        shortest = max(self.shortest_mm, 2 * self.snipe_mm)
        return any(
            along >= shortest - SAW_TOL_MM and across <= self.widest_mm + SAW_TOL_MM
            for along, across in ways
        )

    def usable(self, blank: Rect) -> Rect:
        """The part of a planed blank between the sniped ends (the longer way for "either")."""
        along_x = self.feed == "x" or (self.feed == "either" and blank.width_mm >= blank.height_mm)
        x, y, width, height = blank
        if along_x:
            return Rect(x + self.snipe_mm, y, width - 2 * self.snipe_mm, height)
        return Rect(x, y + self.snipe_mm, width, height - 2 * self.snipe_mm)


@dataclass(frozen=True, slots=True)
class BlankLimits:
    """What a rectangle must keep to so that it can be a blank, mm and mm².

    table_w_mm, table_h_mm: largest blank that lies on the machine. may_turn: it may lie on the
    table turned by 90°. max_area_mm2: of the heaviest blank (see max_area_mm2()). min_side_mm:
    a narrower rectangle is an offcut, not a blank.
    """

    table_w_mm: float
    table_h_mm: float
    may_turn: bool = True
    max_area_mm2: float | None = None
    min_side_mm: float = 0.0
    planer: PlanerLimits | None = None

    def on_table(self, width_mm: float, height_mm: float) -> bool:
        """True if the rectangle lies on the table in an allowed turn."""
        sizes = [(width_mm, height_mm)]
        if self.may_turn:
            sizes.append((height_mm, width_mm))
        return any(
            w <= self.table_w_mm + SAW_TOL_MM and h <= self.table_h_mm + SAW_TOL_MM
            for w, h in sizes
        )

    def allows(self, width_mm: float, height_mm: float) -> bool:
        """True if the rectangle can be a blank."""
        return (
            self.on_table(width_mm, height_mm)
            and min(width_mm, height_mm) >= max(self.min_side_mm, SAW_TOL_MM) - SAW_TOL_MM
            and (
                self.max_area_mm2 is None or width_mm * height_mm <= self.max_area_mm2 * (1 + 1e-9)
            )
            and (self.planer is None or self.planer.takes(width_mm, height_mm))
        )

    def longest(self, other_side_mm: float, *, other_is_width: bool) -> float:
        """Greatest length a blank may have when its other side is given; 0 if there is none."""
        best = 0.0
        tables = [(self.table_w_mm, self.table_h_mm)]
        if self.may_turn:
            tables.append((self.table_h_mm, self.table_w_mm))
        for table_w, table_h in tables:
            across, along = (table_w, table_h) if other_is_width else (table_h, table_w)
            if other_side_mm <= across + SAW_TOL_MM:
                best = max(best, along)
        if self.max_area_mm2 is not None:
            best = min(best, self.max_area_mm2 / other_side_mm)
        if self.planer is not None and best > 0:
            best = self._planed(best, other_side_mm, other_is_width)
        return best

    def _planed(self, along: float, other: float, other_is_width: bool) -> float:
        """The greatest length up to along that the planer takes, too."""
        assert self.planer is not None
        for length in (along, min(along, self.planer.widest_mm)):
            if self.planer.takes(*((other, length) if other_is_width else (length, other))):
                return length
        return 0.0


@dataclass(frozen=True, slots=True)
class BlankPattern:
    """A way to saw a sheet: blanks, the cuts in order, and the offcuts left whole."""

    blanks: tuple[Blank, ...]
    cuts: tuple[SawCut, ...]
    offcuts: tuple[Rect, ...]

    @property
    def blank_area_mm2(self) -> float:
        """Area of the blanks together, mm²."""
        return sum(blank.width_mm * blank.height_mm for blank in self.blanks)


def max_area_mm2(max_mass_kg: float, thickness_mm: float, density_kg_m3: float) -> float:
    """Area of a board of the given mass, mm²: mass = area × thickness × density.

    Raises InvalidRequestError unless all three are above 0.
    >>> round(max_area_mm2(25, 18, 685))
    2027575
    """
    if min(max_mass_kg, thickness_mm, density_kg_m3) <= 0:
        raise InvalidRequestError(
            "Mass, thickness and density must be above 0",
            f"{max_mass_kg:g} kg, {thickness_mm:g} mm, {density_kg_m3:g} kg/m³",
            "Give the board's measured thickness and its density.",
        )
    return max_mass_kg / (thickness_mm * density_kg_m3) * 1e9


def blanks_for(
    targets: Sequence[tuple[float, float, float, float]],
    sheet_w_mm: float,
    sheet_h_mm: float,
    *,
    kerf_mm: float,
) -> BlankPattern:
    """The pattern that frees given rectangles as blanks, lettered in the order they come off.

    Raises NotSawableError as pattern_for does.
    """
    free = pattern_for(targets, sheet_w_mm, sheet_h_mm, kerf_mm=kerf_mm)
    blanks = tuple(
        Blank(letter(order), *(float(v) for v in targets[index]))
        for order, index in enumerate(free.targets)
    )
    return BlankPattern(blanks, free.cuts, free.offcuts)


def blank_patterns(
    sheet_w_mm: float,
    sheet_h_mm: float,
    table: tuple[float, float],
    *,
    kerf_mm: float,
    edge_trim_mm: float = 0.0,
    may_turn: bool = True,
    max_area_mm2: float | None = None,
    min_side_mm: float = 100.0,
    planer: PlanerLimits | None = None,
    mark_mm: float = 0.0,
    most: int = 40,
) -> list[BlankPattern]:
    """Ways to saw a full sheet into blanks that a machine and a person can handle.

    table: width and height of the largest blank that lies on the machine; may_turn: the blank may
    lie on it turned by 90°. edge_trim_mm: factory edge sawn off all round (only worth it if a
    saw-finished part needs a clean edge). max_area_mm2: see max_area_mm2(). min_side_mm: what is
    narrower stays an offcut. mark_mm: equal parts are rounded down to whole steps of this, so that
    they can be marked out and a fence set; the last one takes what that leaves. 0: exact parts.
    Best first: most area in blanks (to 2 % of the sheet), fewest cuts, largest smallest blank;
    at most `most` patterns. An empty list: no blank can be had from this sheet.
    """
    limits = BlankLimits(*table, may_turn, max_area_mm2, min_side_mm, planer)
    if min(sheet_w_mm, sheet_h_mm, *table) <= 0 or min(kerf_mm, edge_trim_mm, min_side_mm) < 0:
        raise InvalidRequestError(
            "Sheet and table must be larger than 0, kerf, trim and least side not negative",
            f"sheet {sheet_w_mm:g} × {sheet_h_mm:g} mm, table {table[0]:g} × {table[1]:g} mm",
            "Correct the sizes.",
        )
    trim = edge_trim_mm
    inside = Rect(trim, trim, sheet_w_mm - 2 * trim, sheet_h_mm - 2 * trim)
    if min(inside.width_mm, inside.height_mm) <= 0:
        return []
    found: dict[tuple[tuple[float, ...], ...], BlankPattern] = {}
    layouts = [_strips(inside, limits, kerf_mm, upright, mark_mm) for upright in (True, False)]
    for rects in (rects for layout in layouts for rects in layout):
        key = tuple(sorted(tuple(round(v, 3) for v in rect) for rect in rects))
        if rects and key not in found:
            found[key] = blanks_for(rects, sheet_w_mm, sheet_h_mm, kerf_mm=kerf_mm)
    sheet_area = sheet_w_mm * sheet_h_mm

    def rank(pattern: BlankPattern) -> tuple[float, ...]:
        smallest = min(blank.rect.area_mm2 for blank in pattern.blanks)
        lost = 1 - pattern.blank_area_mm2 / sheet_area
        return (int(lost / 0.02), len(pattern.cuts), len(pattern.blanks), -smallest, lost)

    return sorted(found.values(), key=rank)[:most]


def _strips(
    inside: Rect, limits: BlankLimits, kerf_mm: float, upright: bool, mark_mm: float
) -> list[list[Rect]]:
    """Strips across the sheet, each divided the other way, in every sensible combination."""
    length, depth = inside.width_mm, inside.height_mm
    if not upright:
        length, depth = depth, length
    sides = (limits.table_w_mm, limits.table_h_mm)
    widest = [sides[0] if upright else sides[1], sides[1] if upright else sides[0]]
    strip_limits = widest if limits.may_turn else widest[:1]
    if limits.planer is not None:
        strip_limits = [*strip_limits, *(min(w, limits.planer.widest_mm) for w in strip_limits)]
    layouts: list[list[Rect]] = []
    for strips in _all_divisions(length, strip_limits, kerf_mm, limits.min_side_mm, mark_mm):
        options = {}
        for strip in set(strips):
            longest = limits.longest(strip, other_is_width=upright)
            ways = (
                _all_divisions(depth, [longest], kerf_mm, limits.min_side_mm, mark_mm)
                if longest
                else []
            )
            options[strip] = ways or [()]  # too short for any blank: the strip stays whole
        for choice in range(max(len(option) for option in options.values())):
            rects = []
            start = 0.0
            for strip in strips:
                ways = options[strip]
                across = 0.0
                for part in ways[min(choice, len(ways) - 1)]:
                    if upright:
                        rect = Rect(inside.x_mm + start, inside.y_mm + across, strip, part)
                    else:
                        rect = Rect(inside.x_mm + across, inside.y_mm + start, part, strip)
                    if limits.allows(rect.width_mm, rect.height_mm):
                        rects.append(rect)
                    across += part + kerf_mm
                start += strip + kerf_mm
            layouts.append(rects)
    return layouts


def _all_divisions(
    length: float, limits: Sequence[float], kerf: float, least: float, mark: float = 0.0
) -> list[tuple[float, ...]]:
    """Ways to divide a length into parts no longer than a limit, a kerf between them.

    Equal parts, as few as will do and up to two more; parts as long as the limit with the rest
    last; the same without the rest.
    """
    found: dict[tuple[float, ...], None] = {}
    for greatest in limits:
        limit = greatest if mark <= 0 else math.floor(greatest / mark + 1e-6) * mark
        if limit <= 0:
            continue
        few = max(1, -int(-(length + kerf - SAW_TOL_MM) // (limit + kerf)))
        for count in range(few, few + 3):
            part = (length - (count - 1) * kerf) / count
            if part >= least:
                found[_marked(length, part, count, limit, kerf, mark)] = None
        full = int((length + kerf + SAW_TOL_MM) // (limit + kerf))
        rest = length - full * (limit + kerf)
        # Less than half a kerf beside the last part cannot be sawn off.
        if full and rest + kerf > kerf / 2 + SAW_TOL_MM:
            found[(limit,) * full] = None
            if rest > max(least, SAW_TOL_MM):
                found[(limit,) * full + (rest,)] = None
    return list(found)


def _marked(
    length: float, part: float, count: int, limit: float, kerf: float, mark: float
) -> tuple[float, ...]:
    """Equal parts in whole steps of the mark, the last a little longer if the limit allows."""
    if mark <= 0:
        return (part,) * count
    whole = math.floor(part / mark + 1e-6) * mark
    last = length - (count - 1) * (whole + kerf)
    if last <= limit + SAW_TOL_MM:
        return (whole,) * (count - 1) + (last,)
    # What is over is sawn off; less than half a kerf of it cannot be.
    over = last - whole
    return (whole,) * count if over > kerf / 2 + SAW_TOL_MM else (part,) * count
