"""From an arrangement to a proven Layout, and back from a Layout to an arrangement."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import replace

import shapely

from core.errors import InvalidRequestError
from core.nesting.construct import Arrangement, Item, Spot
from core.nesting.model import Layout, NestPiece, NestSheet, Placement, Unplaced, placed_polygon
from core.nesting.objective import used_length
from core.nesting.prepare import Job, placement_of, pose_of
from core.nesting.proof import check_layout

_log = logging.getLogger(__name__)


def layout_of(
    job: Job,
    items: Sequence[Item],
    made: Arrangement,
    locked: dict[tuple[str, int], Placement],
    *,
    steps: int,
    seed: int,
    bound: int,
) -> Layout:
    """The arrangement as a proven Layout.

    A placement that fails the proof goes to the tray and is logged with the seed; locked ones
    are given back exactly as they came.
    """
    order = _sheet_order(job, made)
    copies = _copy_numbers(job, items, made, order)
    placements: list[Placement] = []
    unplaced = _never_placed(job)
    by_sheet: dict[int, list[int]] = {sheet: [] for sheet in order}
    for index, spot in enumerate(made.spots):
        if spot is None:
            item = items[index]
            unplaced.append(Unplaced(job.kinds[item.kind].piece.id, item.copy, _no_room(job, item)))
        else:
            by_sheet[spot.sheet].append(index)
    for sheet in order:
        on_sheet = []
        for index in by_sheet[sheet]:
            item, spot = items[index], made.spots[index]
            assert spot is not None
            kind = job.kinds[item.kind]
            stock = made.sheets[sheet][0]
            own = locked.get((kind.piece.id, item.copy))
            on_sheet.append(
                own
                or placement_of(
                    job, kind, spot.pose, item.copy, stock, copies[sheet], spot.x, spot.y
                )
            )
        placements += _inner_first(job, on_sheet)
    pieces = [kind.piece for kind in job.kinds]
    sheets = [stock.sheet for stock in job.stocks]
    layout = Layout(tuple(placements), tuple(unplaced), steps, seed, bound)
    layout = keep_valid(pieces, sheets, job, layout, locked)
    return _measured(job, layout, bound)


def keep_valid(
    pieces: Sequence[NestPiece],
    sheets: Sequence[NestSheet],
    job: Job,
    layout: Layout,
    locked: dict[tuple[str, int], Placement],
    *,
    given: bool = False,
) -> Layout:
    """The layout with every placement that breaks a rule moved to the tray, and logged.

    given: the places come from the caller (a hand may put a piece anywhere): no fault of ours.
    """
    for _ in range(len(layout.placements) + 1):
        found = [v for v in check_layout(pieces, sheets, job.rules, layout) if v.placements]
        if not found:
            return layout
        if given:
            _log.info("a place given at the start breaks a rule: %s", found[0].message)
        else:
            _log.warning("layout failed its proof, seed %d: %s", layout.seed, found[0].message)
        drop: set[Placement] = set()
        for violation in found:
            if drop.isdisjoint(violation.placements):
                loose = [p for p in violation.placements if p[:2] not in locked]
                drop.update(loose[-1:])
        if not drop:
            return layout
        out = [Unplaced(p.piece_id, p.copy, "It did not keep its distance") for p in drop]
        layout = replace(
            layout,
            placements=tuple(p for p in layout.placements if p not in drop),
            unplaced=layout.unplaced + tuple(sorted(out)),
        )
    return layout


def arrangement_of(
    job: Job,
    items: Sequence[Item],
    start: Layout | None,
    locked: dict[tuple[str, int], Placement],
) -> Arrangement:
    """Start and locked placements as an arrangement; items of locked ones become fixed.

    What in the start breaks a rule (after a change of piece, sheet or rules) goes to the tray.
    Raises InvalidRequestError if locked placements break a rule.
    """
    index_of = {(job.kinds[item.kind].piece.id, item.copy): i for i, item in enumerate(items)}
    taken = dict(locked)
    for placement in start.placements if start is not None else ():
        taken.setdefault((placement.piece_id, placement.copy), placement)
    known = [p for key, p in taken.items() if key in index_of and p.sheet_id in job.stock_by_id]
    pieces = [kind.piece for kind in job.kinds]
    sheets = [stock.sheet for stock in job.stocks]
    _check_locked(pieces, sheets, job, index_of, locked)
    # Locked ones come first, so that of two in conflict the loose one goes.
    known.sort(key=lambda p: p[:2] not in locked)
    valid = keep_valid(pieces, sheets, job, Layout(tuple(known)), locked, given=True)
    made = Arrangement([], [None] * len(items))
    sheet_index: dict[tuple[int, int], int] = {}
    for placement in valid.placements:
        key = (job.stock_by_id[placement.sheet_id], placement.sheet_copy)
        if key not in sheet_index:
            sheet_index[key] = len(made.sheets)
            made.sheets.append(key)
        index = index_of[placement[:2]]
        kind = job.kinds[items[index].kind]
        pose = pose_of(job, kind, placement)
        made.spots[index] = Spot(
            sheet_index[key], pose, placement.x_mm + pose.offset[0], placement.y_mm + pose.offset[1]
        )
        items[index].fixed = placement[:2] in locked
    return made


def _check_locked(
    pieces: Sequence[NestPiece],
    sheets: Sequence[NestSheet],
    job: Job,
    index_of: dict[tuple[str, int], int],
    locked: dict[tuple[str, int], Placement],
) -> None:
    for key, placement in locked.items():
        if key not in index_of or placement.sheet_id not in job.stock_by_id:
            raise InvalidRequestError(
                "A locked piece or its sheet is not in the list",
                f"piece {key[0]} copy {key[1]}",
                "Unlock it or bring back the piece or sheet.",
            )
    found = check_layout(pieces, sheets, job.rules, Layout(tuple(locked.values())))
    broken = [violation for violation in found if violation.placements]
    if broken:
        raise InvalidRequestError(
            f"Locked pieces break a rule: {broken[0].message}",
            f"piece {broken[0].placements[0].piece_id}",
            "Move it or unlock it.",
        )


def _never_placed(job: Job) -> list[Unplaced]:
    return [
        Unplaced(kind.piece.id, copy, kind.problem)
        for kind in job.kinds
        if kind.problem
        for copy in range(1, kind.piece.quantity + 1)
    ]


def _no_room(job: Job, item: Item) -> str:
    if job.kinds[item.kind].piece.filler:
        return "A filler; no waste has room for it"
    if all(stock.quantity is not None for stock in job.stocks):
        return "No room is left on the sheets there are"
    return "It fits no sheet in any turn allowed"


def _sheet_order(job: Job, made: Arrangement) -> list[int]:
    """Sheets in use; the one filled least comes last, the others as they were opened."""
    filled = dict.fromkeys(range(len(made.sheets)), 0)
    for spot in made.spots:
        if spot is not None:
            filled[spot.sheet] += 1
    used = [sheet for sheet, count in filled.items() if count]
    if not used:
        return []
    last = min(used, key=lambda sheet: (used_length(job, made, sheet), -sheet))
    return [sheet for sheet in used if sheet != last] + [last]


def _copy_numbers(
    job: Job, items: Sequence[Item], made: Arrangement, order: Sequence[int]
) -> dict[int, int]:
    """Copy numbers without gaps; sheets that hold locked pieces keep theirs."""
    held = {
        spot.sheet
        for item, spot in zip(items, made.spots, strict=True)
        if item.fixed and spot is not None
    }
    numbers = {sheet: made.sheets[sheet][1] for sheet in order if sheet in held}
    for stock in {made.sheets[sheet][0] for sheet in order}:
        mine = [sheet for sheet in order if made.sheets[sheet][0] == stock]
        taken = {numbers[sheet] for sheet in mine if sheet in held}
        kept = {made.sheets[sheet][1] for sheet in mine}
        compact = kept == set(range(1, len(mine) + 1))
        copy = 1
        for sheet in mine:
            if sheet in held:
                continue
            if compact:
                numbers[sheet] = made.sheets[sheet][1]
                continue
            while copy in taken:
                copy += 1
            numbers[sheet] = copy
            taken.add(copy)
    return numbers


def _inner_first(job: Job, placements: list[Placement]) -> list[Placement]:
    """Pieces that lie in holes before those whose holes they are."""
    with_holes = []
    for placement in placements:
        polygon = job.kinds[job.kind_by_id[placement.piece_id]].piece.polygon
        if shapely.get_num_interior_rings(shapely.get_parts(polygon)).sum():
            with_holes.append(placement)
    if not with_holes:
        return placements
    shapes = {
        p: placed_polygon(job.kinds[job.kind_by_id[p.piece_id]].piece.polygon, p)
        for p in placements
    }
    depth = dict.fromkeys(placements, 0)
    for outer in with_holes:
        ring = shapely.convex_hull(shapes[outer])
        filled = shapely.union_all(
            [shapely.Polygon(part.exterior) for part in shapely.get_parts(shapes[outer])]
        )
        for inner in placements:
            if inner is not outer and ring.intersects(shapes[inner]):
                inside = filled.contains(shapes[inner].representative_point())
                depth[inner] += int(inside)
    return sorted(placements, key=lambda p: -depth[p])


def _measured(job: Job, layout: Layout, bound: int) -> Layout:
    sheets = layout.sheets
    cost = sum(job.stocks[job.stock_by_id[sheet_id]].cost for sheet_id, _ in sheets)
    length = 0.0
    if sheets:
        stock = job.stocks[job.stock_by_id[sheets[-1][0]]]
        reach = max(
            p.x_mm + pose_of(job, job.kinds[job.kind_by_id[p.piece_id]], p).bounds[2]
            + pose_of(job, job.kinds[job.kind_by_id[p.piece_id]], p).offset[0]
            for p in layout.placements
            if (p.sheet_id, p.sheet_copy) == sheets[-1]
        )  # fmt: skip
        length = reach - stock.bounds[0]
    return replace(
        layout, used_length_mm=length, cost=cost, optimal=bool(sheets) and len(sheets) <= bound
    )
