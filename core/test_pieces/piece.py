"""Laying the test piece out on a scrap of the board, and its drawing."""

from __future__ import annotations

import math
import os
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from core.errors import InvalidGeometryError, InvalidProjectError, InvalidRequestError
from core.geometry import Point
from core.joints import JointContext, Keys, StyleBook, Tooth, styles_of
from core.outlines.write import DrawItem, PathItem, RingItem, region_items, write_dxf
from core.project.model import CutBy, Project, ReliefKind, SplitChoice, StyleChoice
from core.shop import Cutter, JointClass, Material
from core.test_pieces.fits import fit_figure, fit_series, fit_words
from core.test_pieces.parts import Recipe, Slot, TestPart, loose_key, plate, tester
from core.units import format_length, format_size

MAX_SIZE_MM = (300.0, 200.0)  # larger is no small cut any more
_ENGRAVE_MM = 0.3
_INCH_UNITS = ("in", "ft", "thou")
# Teeth are tried in a board of at most this thickness: the play at a flank does not depend on
# the size of the tooth, and a small one saves board.
_TOOTH_BOARD_MM = 10.0


@dataclass(frozen=True)
class TestPiece:
    """A test piece laid out, mm, lower left corner of its parts at (0, 0), x along the grain.

    fits_mm: total plays tried, tightest first. style: name of the seam style with a tooth pair
    (or a key and its pockets) on it, "" if there is none, and then no_teeth says why.
    """

    material: str
    thickness_mm: float
    cutter: Cutter
    fits_mm: tuple[float, ...]
    parts: tuple[TestPart, ...]
    style: str = ""
    no_teeth: str = ""
    sentences: tuple[str, ...] = field(default=())

    __test__ = False  # its name would make a test runner collect it

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Bounds of all parts."""
        boxes = [part.region.bounds for part in self.parts]
        return (
            min(b[0] for b in boxes),
            min(b[1] for b in boxes),
            max(b[2] for b in boxes),
            max(b[3] for b in boxes),
        )

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height over all parts."""
        x1, y1, x2, y2 = self.bounds
        return x2 - x1, y2 - y1

    def items(self, at: Point = (0.0, 0.0)) -> list[DrawItem]:
        """What is drawn: writing first, then openings, outlines last, moved by `at`."""
        parts = [part.moved(*at) for part in self.parts]
        out: list[DrawItem] = []
        layer = f"ENGRAVE {_ENGRAVE_MM:g} MM"
        for part in parts:
            for stroke in part.strokes:
                out.append(PathItem.line(layer, *stroke))
        for part in parts:
            out.extend(RingItem(f"POCKET {part.pocket_mm:g} MM", ring) for ring in part.pockets)
        for part in parts:
            out.extend(region_items("CUT", part.region)[1:])
        for part in parts:
            out.extend(region_items("CUT", part.region)[:1])
        return out


def make_test_piece(
    project: Project,
    *,
    material: str | None = None,
    cutter: Cutter | None = None,
    style: StyleChoice | None = None,
    joint_class: JointClass = JointClass.GLUED,
    count: int = 5,
    relief: ReliefKind | None = None,
) -> TestPiece:
    """Draw the test piece for one board and one bit.

    material: a material's name; None takes the one most panels are made of. cutter: None takes
    the router's first bit. style: None takes the seam style most panels have. count: how many
    fits to try; fewer are drawn if more do not go on 300 × 200 mm or into the bit's travel.
    relief: None takes what most seams of the project have, else dog-bones.

    Raises InvalidProjectError if there is no such material, InvalidRequestError if the bit is
    thicker than the board or even three fits do not go into the travel.
    """
    board = _board(project, material)
    bit = cutter if cutter is not None else project.shop.machine.cutter
    kind = relief if relief is not None else _usual_relief(project)
    choice = style if style is not None else _usual_style(project, board.name)
    fit = project.shop.fit_mm(joint_class, board.name)
    if board.thickness_mm < bit.diameter_mm:
        raise InvalidRequestError(
            f"A {bit.diameter_mm:g} mm bit cannot cut slots for a board of "
            f"{board.thickness_mm:g} mm",
            board.name,
            "Take a bit no thicker than the board.",
        )
    inches = project.units in _INCH_UNITS
    teeth, keys, why = _style_parts(choice, board, bit, fit, styles_of(project.shop.teeth))
    numbers = list(dict.fromkeys(n for n in (count, 5, 4, 3) if n <= count)) or [count]
    styled = teeth is not None or keys is not None
    attempts = [(n, True) for n in numbers if styled] + [(n, False) for n in numbers]
    travel = project.shop.machine.travel_mm
    room = tuple(
        min(most, reach - bit.diameter_mm) for most, reach in zip(MAX_SIZE_MM, travel, strict=True)
    )
    for number, with_style in attempts:
        fits = fit_series(fit, number, inches=inches)
        real = bit.measured_mm if bit.measured_mm is not None else bit.diameter_mm
        recipe = Recipe(
            board.thickness_mm,
            bit.diameter_mm,
            fits,
            tuple(fit_figure(f, inches=inches) for f in fits),
            fit_words(number),
            f"{board.name}  BIT {format_length(bit.diameter_mm, project.units)}",
            kind,
            max(0.0, (bit.diameter_mm - real) / 2),
            teeth if with_style else None,
            keys if with_style else None,
        )
        try:
            parts = _laid_out(recipe, project.shop.spacing_mm, room)
        except InvalidGeometryError as problem:
            if not with_style:
                raise
            why = f"a joint of this style does not go on a test piece: {problem.what.lower()}"
            continue
        if parts is None:
            if with_style:
                why = "its teeth or keys are too large for a test piece"
            continue
        return TestPiece(
            board.name,
            board.thickness_mm,
            bit,
            fits,
            parts,
            choice.name if with_style else "",
            "" if with_style else why,
        )
    raise InvalidRequestError(
        f"A test piece for a {board.thickness_mm:g} mm board does not go into the bit's travel of "
        f"{travel[0]:g} × {travel[1]:g} mm",
        project.shop.machine.name,
        "Correct the travel in the Shop, or try fewer fits.",
    )


def _board(project: Project, name: str | None) -> Material:
    shop = project.shop
    if name is not None:
        found = shop.material(name)
        if found is None:
            raise InvalidProjectError(
                f'There is no material "{name}"', "", "Add it in the Shop, or pick another."
            )
        return found
    names = materials_used(project)
    if not names:
        raise InvalidProjectError(
            "There is no material to make a test piece for", "", "Add the board in the Shop."
        )
    found = shop.material(names[0])
    assert found is not None
    return found


def materials_used(project: Project) -> list[str]:
    """Names of the shop's materials that routed panels have, most used first; else all."""
    known = [m.name for m in project.shop.materials]
    used = Counter(
        p.material
        for p in project.panels
        if p.by is CutBy.ROUTER and p.split is not SplitChoice.OMIT and p.material in known
    )
    return sorted(used, key=lambda n: (-used[n], known.index(n))) or known


def _usual_style(project: Project, material: str) -> StyleChoice:
    choices = [p.style for p in project.panels if p.material == material]
    choices += [s.style for p in project.panels for s in p.seams or ()]
    return Counter(choices).most_common(1)[0][0] if choices else StyleChoice()


def _usual_relief(project: Project) -> ReliefKind:
    kinds = [s.relief for p in project.panels for s in p.seams or ()]
    return Counter(kinds).most_common(1)[0][0] if kinds else ReliefKind.DOG_BONE


def _style_parts(
    choice: StyleChoice, board: Material, bit: Cutter, fit_mm: float, styles: StyleBook
) -> tuple[Tooth | None, Keys | None, str]:
    """The style's tooth or keys in a board no thicker than 10 mm, or neither and the reason."""
    try:
        style = styles.get(choice.name)
        context = JointContext(min(board.thickness_mm, _TOOTH_BOARD_MM), bit, fit_mm)
        tooth, keys = style.tooth(choice, context), style.keys(choice, context)
    except (InvalidRequestError, InvalidGeometryError) as problem:
        return None, None, problem.what
    if tooth is None and keys is None:
        return None, None, f"a {style.title.lower()} has neither teeth nor keys"
    return tooth, keys, ""


def _laid_out(
    recipe: Recipe, spacing_mm: float, room_mm: tuple[float, ...]
) -> tuple[TestPart, ...] | None:
    """Plate and testers side by side or one above the other, None if neither goes in."""
    main = plate(recipe)
    lying, standing = tester(recipe, along=True), tester(recipe, along=False)
    gap = max(spacing_mm, recipe.cutter_mm + 1.0)
    wide = main.region.size_mm[0]
    lw, lh = lying.region.size_mm
    sw, sh = standing.region.size_mm
    key = loose_key(recipe)
    kh = 0.0 if key is None else key.region.size_mm[1]
    tall = max(lh, sh, kh)
    # Testers and key in a column on the right, in a row below, or one tester below.
    right = wide + gap
    ways: tuple[tuple[Point, Point, Point, Point], ...] = (
        ((right, 0.0), (right, lh + gap), (right, lh + sh + 2 * gap), (0.0, 0.0)),
        ((0.0, 0.0), (lw + gap, 0.0), (lw + sw + 2 * gap, 0.0), (0.0, tall + gap)),
        ((right, kh + gap), (0.0, 0.0), (sw + gap, 0.0), (0.0, max(sh, kh) + gap)),
    )
    best: tuple[float, tuple[TestPart, ...]] | None = None
    for at_lying, at_standing, at_key, at_main in ways:
        spots = [(main, at_main), (lying, at_lying), (standing, at_standing)]
        if key is not None:
            spots.append((key, at_key))
        parts = tuple(_at(part, corner) for part, corner in spots)
        boxes = [p.region.bounds for p in parts]
        size = max(b[2] for b in boxes), max(b[3] for b in boxes)
        if all(s <= most for s, most in zip(size, room_mm, strict=True)):
            area = size[0] * size[1]
            if best is None or area < best[0] - 1e-9:
                best = (area, parts)
    return None if best is None else best[1]


def _at(part: TestPart, corner: Point) -> TestPart:
    x1, y1, _, _ = part.region.bounds
    return part.moved(corner[0] - x1, corner[1] - y1)


# --- writing --------------------------------------------------------------------------------


def write_test_piece(
    project: Project,
    out_path: str | os.PathLike[str],
    *,
    materials: Sequence[str] | None = None,
    cutter: Cutter | None = None,
    joint_class: JointClass = JointClass.GLUED,
) -> tuple[str, ...]:
    """Write the test piece as DXF in mm and say what was made and how to use it.

    materials None: the board most panels are made of goes into out_path; every other board that
    panels use gets a file of its own beside it, named after the board. The origin is the lower
    left corner of the scrap to clamp. Returns sentences to print. Raises as
    :func:`make_test_piece`, and SaveFailedError if a file cannot be written.
    """
    target = Path(out_path)
    names = materials_used(project) if materials is None else list(materials)
    pieces = [
        make_test_piece(project, material=name, cutter=cutter, joint_class=joint_class)
        for name in names
    ]
    if not pieces:
        pieces = [make_test_piece(project, cutter=cutter, joint_class=joint_class)]
    paths = [target]
    for piece in pieces[1:]:
        slug = re.sub(r"[^a-z0-9]+", "-", piece.material.lower()).strip("-") or "board"
        candidate, number = target.with_name(f"{target.stem}-{slug}{target.suffix}"), 2
        while candidate in paths:
            candidate = target.with_name(f"{target.stem}-{slug}-{number}{target.suffix}")
            number += 1
        paths.append(candidate)
    out: list[str] = []
    for piece, path in zip(pieces, paths, strict=True):
        margin = piece_margin_mm(project, piece)
        write_dxf(path, piece.items((margin, margin)))
        first, *rest = piece_words(project, piece)
        out += [f"{path.name}: {first[:1].lower()}{first[1:]}", *rest]
    out += use_words(project, pieces[0])
    return tuple(out)


def piece_margin_mm(project: Project, piece: TestPiece) -> float:
    """How far its parts stay from the edges of the scrap."""
    return max(project.shop.rules.edge_margin_mm, piece.cutter.diameter_mm)


def scrap_size_mm(project: Project, piece: TestPiece) -> tuple[float, float]:
    """The least scrap it goes on, mm, the grain along its width; whole millimetres, rounded up,
    because a scrap is never measured finer."""
    margin = piece_margin_mm(project, piece)
    width, height = piece.size_mm
    return math.ceil(width + 2 * margin), math.ceil(height + 2 * margin)


def slot_to_measure(piece: TestPiece) -> Slot:
    """The upright slot whose measured width tells the bit's real diameter."""
    return next(s for s in piece.parts[0].slots if not s.length_along)


def piece_words(project: Project, piece: TestPiece) -> list[str]:
    """What the piece is for and what it needs, in sentences."""
    unit = project.units
    fits = ", ".join(format_length(f, unit) for f in piece.fits_mm)
    measured = project.shop.material(piece.material)
    state = "measured" if measured is not None and measured.measured_mm is not None else "nominal"
    out = [
        f"Test piece for {piece.material}, {state} thickness "
        f"{format_length(piece.thickness_mm, unit)}, "
        f"bit {format_length(piece.cutter.diameter_mm, unit)}; total play {fits}.",
        f"It needs a scrap of that board of at least "
        f"{format_size(*scrap_size_mm(project, piece), unit)}, the grain along its length.",
    ]
    if state == "nominal":
        out.append(
            "The board has not been measured: measure it with a caliper first and enter the "
            "reading, or the slots test the wrong thickness."
        )
    if piece.no_teeth:
        out.append(f"There is no seam joint on it: {piece.no_teeth}.")
    return out


def use_words(project: Project, piece: TestPiece) -> list[str]:
    """How it is cut, tried and measured, in sentences."""
    unit = project.units
    slot = slot_to_measure(piece)
    figure = fit_figure(slot.play_mm, inches=unit in _INCH_UNITS)
    return [
        "Cut it before anything else, with the bit, speeds and board of the job, "
        "and hold the small parts down: tabs, skin or a screw; follow the machine's manual.",
        f"Try both testers in every slot{_also(piece)}: one crosses the grain, the other runs with "
        "it. Glued joints should go together by hand without force.",
        "Enter the word or the play written beside the one that was right, along and across the "
        "grain; the larger becomes the fit for this board and this bit.",
        f"Measure the upright slot marked {figure} across its middle: it is drawn "
        f"{format_length(slot.width_mm, unit)} wide, and what it measures over or under that is "
        "what the bit is over or under its diameter.",
    ]


def _also(piece: TestPiece) -> str:
    if not piece.style:
        return ""
    return (
        ", the key in every pocket" if piece.parts[0].pockets else ", their teeth in every socket"
    )
