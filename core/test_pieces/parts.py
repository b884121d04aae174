"""The parts of a test piece: a plate with slots and sockets, and two testers to try in them.

Every part is drawn with x along the grain. The plate has one slot of each fit with its length
across the grain and one along it, and, where the seam style has teeth, one socket of each fit
in its lower edge (a seam along the grain) and in its right edge (a seam across it). Each
tester has a tab for the slots at one end and a tooth for the sockets at the other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from core.errors import InvalidGeometryError
from core.geometry import Motion, Point, Region, Ring
from core.geometry.path import Path, clean_path, offset_ring, reversed_path
from core.joints import Keys, Tooth
from core.joints.profile import ToothPlace, build_profile
from core.joints.relief import relieve_ring
from core.project.model import ReliefKind
from core.refit.narrow import round_ends
from core.test_pieces.strokes import Stroke, text_strokes, text_width

TEXT_MM = 4.0
BIG_TEXT_MM = 5.0
_AIR_MM = 3.0  # round a line of text


@dataclass(frozen=True, slots=True)
class Slot:
    """One slot of the plate: its exact size before relief, mm, and the play it gives.

    length_along: its long side runs along the grain (x). width_mm: thickness plus play.
    """

    at: Point
    width_mm: float
    length_mm: float
    play_mm: float
    length_along: bool


@dataclass(frozen=True)
class TestPart:
    """One part to cut: its outline, the writing on it, and for the plate its slots.

    pockets: outlines cut to pocket_mm from the face that is written on.
    """

    name: str
    region: Region
    strokes: tuple[Stroke, ...] = ()
    texts: tuple[str, ...] = ()
    slots: tuple[Slot, ...] = ()
    pockets: tuple[Ring, ...] = ()
    pocket_mm: float = 0.0

    __test__ = False  # its name would make a test runner collect it

    def moved(self, dx_mm: float, dy_mm: float) -> TestPart:
        """The part moved."""
        motion = Motion(dx_mm, dy_mm)
        return TestPart(
            self.name,
            self.region.moved(motion),
            tuple(tuple(motion.apply(*p) for p in stroke) for stroke in self.strokes),
            self.texts,
            tuple(
                Slot(motion.apply(*s.at), s.width_mm, s.length_mm, s.play_mm, s.length_along)
                for s in self.slots
            ),
            tuple(ring.moved(motion) for ring in self.pockets),
            self.pocket_mm,
        )


@dataclass(frozen=True, slots=True)
class Recipe:
    """What the parts are made for, mm. tooth and keys None: slots and tabs only."""

    thickness_mm: float
    cutter_mm: float
    fits_mm: tuple[float, ...]
    figures: tuple[str, ...]
    words: tuple[str, ...]
    title: str
    relief: ReliefKind
    allowance_mm: float = 0.0
    tooth: Tooth | None = None
    keys: Keys | None = None

    @property
    def tab_mm(self) -> float:
        """Width of a tab, that is the length of its slot without play."""
        # Longer than the board is thick, so that nobody tries a tab the wrong way round.
        return max(20.0, 3.0 * self.cutter_mm, self.thickness_mm + 6.0)

    @property
    def web_mm(self) -> float:
        """Board left between openings."""
        return max(12.0, 2.0 * self.cutter_mm)

    @property
    def middle_mm(self) -> float:
        """The fit half of which every tester's tooth gives up."""
        return self.fits_mm[(len(self.fits_mm) - 1) // 2]


def _walk(path: Path, origin: Point, up: bool) -> Path:
    """A path drawn along +x from (0, 0), laid along +x or +y from origin."""
    if up:
        return tuple((origin[0] - y, origin[1] + x, b) for x, y, b in path)
    return tuple((origin[0] + x, origin[1] + y, b) for x, y, b in path)


def _one_tooth(
    recipe: Recipe, tooth: Tooth, length_mm: float, centre_mm: float, gap_mm: float, *, left: bool
) -> Path:
    """The edge of one mate along +x, with a single tooth centred, relief included."""
    base: Path = ((0.0, 0.0, 0.0), (length_mm, 0.0, 0.0))
    profile = build_profile(
        base,
        0.0,
        length_mm,
        tooth,
        [ToothPlace(centre_mm - tooth.base_mm / 2)],
        gap_mm=gap_mm,
        radius_mm=recipe.cutter_mm / 2,
        relief=recipe.relief,
        allowance_mm=recipe.allowance_mm,
    )
    return profile.left_cut if left else profile.right_cut


def _socket_edge(
    recipe: Recipe, length_mm: float, start_mm: float, pitch_mm: float
) -> tuple[Path, list[float]]:
    """An edge along +x with one socket of each fit, and the stations of their middles.

    The tester's tooth gives up half of the middle fit; the socket gives up the rest, so that
    the play between the two is the fit written beside it.
    """
    tooth = recipe.tooth
    assert tooth is not None
    rows: list[tuple[float, ...]] = [(0.0, 0.0, 0.0)]
    centres = []
    for index, fit in enumerate(recipe.fits_mm):
        low = start_mm + pitch_mm * index
        # Gap at a flank is fit / 2, of which each mate of a seam gives up half.
        gap = 2.0 * (fit / 2.0) - recipe.middle_mm / 2.0
        edge = _one_tooth(recipe, tooth, pitch_mm, pitch_mm / 2, gap, left=True)
        rows.extend((x + low, y, b) for x, y, b in edge)
        centres.append(low + pitch_mm / 2)
    rows.append((length_mm, 0.0, 0.0))
    return clean_path(rows), centres


def _slot_ring(recipe: Recipe, slot: Slot) -> Ring:
    width, height = slot.width_mm, slot.length_mm
    if slot.length_along:
        width, height = height, width
    x, y = slot.at
    ring = Ring.rectangle(x - width / 2, y - height / 2, width, height).oriented(ccw=False)
    across, along = slot.play_mm / 2, slot.play_mm / 2
    mates = {}
    for index, (vx, vy, _) in enumerate(ring.vertices):
        mates[index] = (
            vx + (across if vx < x else -across),
            vy + (along if vy < y else -along),
        )
    try:
        return relieve_ring(
            ring, mates, recipe.cutter_mm / 2, recipe.relief, allowance_mm=recipe.allowance_mm
        )
    except InvalidGeometryError:
        # No room for two reliefs in the slot's short ends: they get one round end each.
        short = [
            i
            for i, (start, end, _) in enumerate(ring.edges())
            if abs(math.dist(start, end) - slot.width_mm) < 1e-9
        ]
        return round_ends(ring, short)


def plate(recipe: Recipe) -> TestPart:
    """The plate with slots and sockets, lower left corner at (0, 0)."""
    count, t, w, web = len(recipe.fits_mm), recipe.thickness_mm, recipe.tab_mm, recipe.web_mm
    tooth = recipe.tooth
    widest_text = max(text_width(s, TEXT_MM) for s in recipe.words + recipe.figures) + 3.0
    play = recipe.fits_mm[-1]
    # Dog-bones stick out beyond a slot's corners by 0.29 r; the web allows for a whole r.
    pitch = max(w + play + web, t + play + web, widest_text)
    side = max(10.0, recipe.cutter_mm)
    socket_pitch, depth = 0.0, 0.0
    key_w, key_h = (0.0, 0.0) if recipe.keys is None else Region.of(recipe.keys.outline).size_mm
    if recipe.keys is not None:
        pitch = max(pitch, key_w + play + web)
    if tooth is not None:
        socket_pitch = max(tooth.pitch_mm, tooth.head_mm + web)
        depth = tooth.depth_mm + recipe.cutter_mm
        pitch = max(pitch, socket_pitch)
    line = TEXT_MM + 2 * _AIR_MM
    y = depth + line
    texts: list[tuple[str, Point, float]] = []
    xs = [side + pitch * (k + 0.5) for k in range(count)]
    slots = []
    for x, fit in zip(xs, recipe.fits_mm, strict=True):
        slots.append(Slot((x, y + (t + fit) / 2), t + fit, w + fit, fit, True))
    y += t + play + recipe.cutter_mm / 2
    texts += [(f, (x, y + _AIR_MM), TEXT_MM) for x, f in zip(xs, recipe.figures, strict=True)]
    y += line + recipe.cutter_mm / 2
    for x, fit in zip(xs, recipe.fits_mm, strict=True):
        slots.append(Slot((x, y + (w + fit) / 2), t + fit, w + fit, fit, False))
    y += w + play + recipe.cutter_mm / 2
    texts += [(f, (x, y + _AIR_MM), TEXT_MM) for x, f in zip(xs, recipe.words, strict=True)]
    y += line
    pockets: list[Ring] = []
    if recipe.keys is not None:
        y += key_h / 2 + play
        pockets = [
            _key_pocket(recipe, recipe.keys, fit).moved(Motion(x, y))
            for x, fit in zip(xs, recipe.fits_mm, strict=True)
        ]
        y += key_h / 2 + play
        texts += [(f, (x, y + _AIR_MM), TEXT_MM) for x, f in zip(xs, recipe.figures, strict=True)]
        y += line
    title = f"{recipe.title}  GRAIN >"
    room = pitch * count
    size = min(BIG_TEXT_MM, BIG_TEXT_MM * room / max(text_width(title, BIG_TEXT_MM), 1e-9))
    texts.append((title, (side + room / 2, y + _AIR_MM), size))
    height = y + BIG_TEXT_MM + 2 * _AIR_MM + 3.0
    width = 2 * side + room
    edge_rows: Path
    if tooth is None:
        outer = Ring.rectangle(0.0, 0.0, width, height)
    else:
        figure_room = max(text_width(f, TEXT_MM) for f in recipe.figures) + 2 * _AIR_MM
        width = side + room + figure_room + depth
        height = max(height, depth + socket_pitch * count + 2 * side)
        bottom, centres = _socket_edge(recipe, width, side, pitch)
        texts += [
            (f, (x, depth + _AIR_MM), TEXT_MM) for x, f in zip(centres, recipe.figures, strict=True)
        ]
        free = height - depth - side - socket_pitch * count
        right, centres = _socket_edge(recipe, height, depth + free / 2, socket_pitch)
        texts += [
            (f, (width - depth - figure_room / 2, y - TEXT_MM / 2), TEXT_MM)
            for y, f in zip(centres, recipe.figures, strict=True)
        ]
        edge_rows = _walk(right, (width, 0.0), True)
        outer = Ring.of([*bottom, *edge_rows, (width, height), (0.0, height)])
    strokes = [s for text, at, size in texts for s in text_strokes(text, at, size, centred=True)]
    region = Region.of(outer, [_slot_ring(recipe, slot) for slot in slots])
    return TestPart(
        "Plate",
        region,
        tuple(strokes),
        tuple(text for text, _, _ in texts),
        tuple(slots),
        tuple(pockets),
        0.0 if recipe.keys is None else recipe.keys.depth_mm,
    )


def _key_pocket(recipe: Recipe, keys: Keys, fit_mm: float) -> Ring:
    """The pocket of a key at one fit: the key gives up half of the middle fit, it the rest."""
    gap = fit_mm / 2.0 - recipe.middle_mm / 4.0
    ring = offset_ring(keys.outline.oriented(ccw=True), -gap) if gap else keys.outline
    return ring.oriented(ccw=True)


def loose_key(recipe: Recipe) -> TestPart | None:
    """The key to try in the pockets, its length along the grain; None without keys."""
    if recipe.keys is None:
        return None
    gap = recipe.middle_mm / 4.0
    outline = recipe.keys.outline.oriented(ccw=True)
    ring = offset_ring(outline, gap) if gap else outline
    return TestPart("Key", Region.of(ring.moved(Motion(turn_deg=-90.0))))


def tester(recipe: Recipe, *, along: bool) -> TestPart:
    """A tester. along: its tab and tooth point along the grain (x), else across it.

    The tab is thickness + 2 mm long, so that it comes through and can be pushed back out.
    """
    t, w, tooth = recipe.thickness_mm, recipe.tab_mm, recipe.tooth
    shoulder = max(8.0, recipe.cutter_mm)
    wide = w + 2 * shoulder
    if tooth is not None:
        wide = max(wide, tooth.head_mm + 2 * shoulder)
    body = 32.0
    # Drawn standing: tab at the foot, tooth on top.
    low, high = t + 2.0, t + 2.0 + body
    x1, x2 = (wide - w) / 2, (wide + w) / 2
    rows: list[tuple[float, ...]] = [
        (0.0, low),
        (x1, low),
        (x1, 0.0),
        (x2, 0.0),
        (x2, low),
        (wide, low),
    ]
    if tooth is None:
        rows += [(wide, high), (0.0, high)]
    else:
        top = _one_tooth(recipe, tooth, wide, wide / 2, recipe.middle_mm / 2.0, left=False)
        rows += reversed_path(_walk(top, (0.0, high), False))
    ring = Ring.of(rows)
    half = recipe.fits_mm[0] / 2
    roots = {}
    for index, (x, y, _) in enumerate(ring.vertices):
        if abs(y - low) < 1e-9 and x in (x1, x2):
            # The slot's mouth stands half the play away from the tab's side.
            roots[index] = (x - half if x == x1 else x + half, low)
    ring = relieve_ring(
        ring, roots, recipe.cutter_mm / 2, recipe.relief, allowance_mm=recipe.allowance_mm
    )
    word = "ALONG" if along else "ACROSS"
    size = min(TEXT_MM, TEXT_MM * (wide - 8.0) / text_width(word, TEXT_MM))
    at = (wide / 2, low + (body - size) / 2)
    if not along:
        return TestPart(
            "Tester across the grain",
            Region.of(ring),
            text_strokes(word, at, size, centred=True),
            (word,),
        )
    # A quarter turn clockwise: tab to the left end, tooth to the right; then turned half round
    # so that the tooth meets the sockets in the plate's right edge.
    ring = Ring(tuple((-y, x, b) for x, y, b in ring.vertices))
    ring = Ring(tuple((x + high + _reach(tooth), y, b) for x, y, b in ring.vertices))
    reach = high + _reach(tooth)
    strokes = text_strokes(word, (reach - low - body / 2, wide / 2 - size / 2), size, centred=True)
    return TestPart("Tester along the grain", Region.of(ring), strokes, (word,))


def _reach(tooth: Tooth | None) -> float:
    return 0.0 if tooth is None else tooth.depth_mm
