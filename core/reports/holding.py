"""What holds the parts of a clamping, drawn: tabs, screws, and holes for the pins of a feed."""

from __future__ import annotations

from shapely.geometry import Polygon, box

from core.bed import MILLED
from core.geometry import Motion, Point
from core.outlines.write import CircleItem, DrawItem, PathItem, PointItem
from core.plan import PlanHold, PlanSetup
from core.reports.board import Board
from core.reports.picture import ACCENT, INK, NARROW_MM, PAPER, Line, Mark, Stroke, circle
from core.reports.words import counted
from core.shop import Hold

TAB_MM = 1.1  # half of a tab's mark on paper
SCREW_MM = 1.3  # radius of a screw's mark on paper
_TAB = Stroke(0.6, INK)
_SCREW = Stroke(0.3, INK)
_PIN = Stroke(0.3, ACCENT)


def holds_of(setup: PlanSetup, piece: str, copy: int) -> tuple[PlanHold, ...]:
    """The holds of one copy: of itself first, then of its slugs."""
    return tuple(h for h in setup.holds if (h.piece, h.copy) == (piece, copy))


def held_words(setup: PlanSetup, piece: str, copy: int) -> str:
    """How one copy and its slugs are held, for a table's cell."""
    found = holds_of(setup, piece, copy)
    if not found:
        return "–"
    own = [_one(h) for h in found if h.hole is None]
    slugs: dict[str, int] = {}
    for hold in found:
        if hold.hole is not None:
            slugs[_one(hold)] = slugs.get(_one(hold), 0) + 1
    rows = [f"{counted(count, 'slug')}: {_each(words, count)}" for words, count in slugs.items()]
    return "; ".join([*own, *rows])


def _one(hold: PlanHold) -> str:
    if hold.way == Hold.TABS:
        return counted(len(hold.places), "tab")
    if hold.way == Hold.SCREWS:
        return "a screw"
    known = {MILLED: "milled away", str(Hold.VACUUM): "suction", str(Hold.SKIN): "a skin"}
    return known.get(hold.way, hold.way)


def _each(words: str, count: int) -> str:
    return f"{words} each" if count > 1 and words.endswith(("tab", "tabs", "screw")) else words


def hold_entries(setup: PlanSetup) -> list[str]:
    """Legend entries for what is drawn."""
    entries = ["tab"] if any(h.way == Hold.TABS for h in setup.holds) else []
    entries += ["screw"] if _screws(setup) else []
    entries += ["bore"] if setup.bores else []
    entries += ["pin"] if setup.pins else []
    return entries


def _screws(setup: PlanSetup) -> list[Point]:
    inside = [p for h in setup.holds if h.way == Hold.SCREWS for p in h.places]
    return [*setup.screws, *inside]


def hold_boxes(board: Board, setup: PlanSetup, frame: Motion) -> list[Polygon]:
    """Where those marks are on paper, for names to keep off."""
    tabs = [p for h in setup.holds if h.way == Hold.TABS for p in h.places]
    radius = max(setup.pin_mm / 2 / board.n, 0.8)
    sized = [*((p, TAB_MM) for p in tabs), *((p, SCREW_MM) for p in _screws(setup))]
    sized += [(p, radius) for p in (*setup.bores, *setup.pins)]
    found = []
    for place, half in sized:
        x, y = board.point(*frame.apply(*place))
        found.append(box(x - half, y - half, x + half, y + half))
    return found


def hold_marks(board: Board, setup: PlanSetup, frame: Motion) -> list[Mark]:
    """Tabs, screws, bores and pins on the diagram of a clamping."""
    marks: list[Mark] = []
    for hold in setup.holds:
        if hold.way == Hold.TABS:
            for at in hold.places:
                marks += tab_sample(*board.point(*frame.apply(*at)))
    for at in _screws(setup):
        marks += screw_sample(*board.point(*frame.apply(*at)))
    radius = max(setup.pin_mm / 2 / board.n, 0.8)
    for at in setup.bores:
        marks += bore_sample(*board.point(*frame.apply(*at)), radius)
    for at in setup.pins:
        marks += pin_sample(*board.point(*frame.apply(*at)), radius)
    return marks


def tab_sample(x: float, y: float) -> list[Mark]:
    """A tab: a small cross of one upright and one level stroke."""
    return [
        Line(((x - TAB_MM, y), (x + TAB_MM, y)), _TAB, "tab"),
        Line(((x, y - TAB_MM), (x, y + TAB_MM)), _TAB, "tab"),
    ]


def screw_sample(x: float, y: float) -> list[Mark]:
    """A screw: a ring with a slanting cross."""
    arm = SCREW_MM * 0.7
    return [
        circle(x, y, SCREW_MM, _SCREW, PAPER),
        Line(((x - arm, y - arm), (x + arm, y + arm)), _SCREW, "screw"),
        Line(((x - arm, y + arm), (x + arm, y - arm)), _SCREW, "screw"),
    ]


def bore_sample(x: float, y: float, radius: float = 1.2) -> list[Mark]:
    """A hole to bore: a ring with its axes standing out."""
    arm = radius + 1.2
    return [
        circle(x, y, radius, _PIN, PAPER),
        Line(((x - arm, y), (x + arm, y)), _PIN, "bore"),
        Line(((x, y - arm), (x, y + arm)), _PIN, "bore"),
    ]


def pin_sample(x: float, y: float, radius: float = 1.2) -> list[Mark]:
    """A pin: a filled ring."""
    return [circle(x, y, radius, Stroke(NARROW_MM, ACCENT), ACCENT)]


def hold_items(
    setup: PlanSetup, frame: Motion, *, tab: str, screw: str, registration: str
) -> list[DrawItem]:
    """The same for a drawing, on the layers named."""
    items: list[DrawItem] = []
    for hold in setup.holds:
        if hold.way == Hold.TABS:
            items += [PointItem(tab, frame.apply(*at)) for at in hold.places]
    items += [PointItem(screw, frame.apply(*at)) for at in _screws(setup)]
    for at in (*setup.bores, *setup.pins):
        items.append(CircleItem(registration, frame.apply(*at), setup.pin_mm / 2))
    for at in setup.pins:
        x, y = frame.apply(*at)
        arm = setup.pin_mm
        items.append(PathItem.line(registration, (x - arm, y), (x + arm, y)))
        items.append(PathItem.line(registration, (x, y - arm), (x, y + arm)))
    return items
