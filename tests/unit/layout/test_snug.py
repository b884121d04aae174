"""Pieces changed after the sawing go back into blanks that they just fill."""

from __future__ import annotations

from dataclasses import replace

from core.geometry import Motion, Region, Ring
from core.layout import Copies, assemble_sheets, lay_out_pieces
from core.plan import PlanPiece
from core.project.model import KeptLayout, Placed, SawnSheet
from core.shop import ClampZone, Cutter, Machine, Material, Reading, Rules, Shop, Stock

SHOP = Shop(
    Machine(travel_mm=(900.0, 600.0), table_mm=(900.0, 600.0), cutters=(Cutter(6.0),)),
    (Material("birch", 18, (Reading(17.6),)),),
    (Stock("full", "birch", 2440.0, 1220.0),),
    rules=Rules(edge_margin_mm=8.0, kerf_mm=3.0),
)
#: Sawn for a piece of 584 × 284 mm and one of 384 × 284 mm, without a hair to spare.
SAWN = SawnSheet(
    "full",
    1,
    ((0.0, 0.0, 600.0, 300.0), (603.0, 0.0, 400.0, 300.0)),
    frozen=True,
    wanted=(("long", 1), ("short", 1)),
)
SPOTS = {"long": Motion(8.0, 8.0), "short": Motion(611.0, 8.0)}


def piece(name: str, width: float, height: float, digest: str) -> PlanPiece:
    region = Region.of(Ring.rectangle(0, 0, width, height))
    made = PlanPiece(name, name, name, region, region, "birch", 17.6, turns_deg=(0.0, 180.0))
    return replace(made, digest=digest)


def again(long: PlanPiece, short: PlanPiece, shop: Shop = SHOP) -> KeptLayout:
    """The layout after changes: every piece had the digest "old" when the sheet was sawn."""
    placed = tuple(Placed(n, 1, "full", 1, at, digest="old") for n, at in SPOTS.items())
    start = KeptLayout("", placed, (SAWN,))
    return lay_out_pieces([Copies(long, 1), Copies(short, 1)], shop, start=start, steps=2000)


def test_a_changed_piece_of_the_same_outline_stays_where_it_lay() -> None:
    long, short = piece("long", 584, 284, "new"), piece("short", 384, 284, "old")
    found = again(long, short)
    assert {p.piece: p.motion for p in found.placed} == SPOTS
    assert all(p.sheet_copy == 1 for p in found.placed)
    assert not assemble_sheets([long, short], SHOP, found).findings


def test_two_pieces_that_changed_sizes_change_blanks() -> None:
    long, short = piece("long", 384, 284, "new"), piece("short", 584, 284, "new")
    found = again(long, short)
    # The one that has become short fits where it lay; the other would not fit beside it.
    assert {p.piece for p in found.placed} == {"long"}


def test_a_piece_that_is_too_large_now_goes_nowhere() -> None:
    long, short = piece("long", 584.5, 284, "new"), piece("short", 384, 284, "old")
    found = again(long, short)
    assert {p.piece: p.motion for p in found.placed} == {"short": SPOTS["short"]}


def test_a_clamp_that_has_come_since_is_kept_clear_of() -> None:
    clamp = ClampZone(0.0, 100.0, 40.0, 40.0)
    shop = replace(SHOP, machine=replace(SHOP.machine, clamps=(clamp,)))
    found = again(piece("long", 584, 284, "new"), piece("short", 384, 284, "new"), shop)
    # The long one fills its blank and cannot; the short one finds room beside the clamp there.
    (short,) = found.placed
    assert short.piece == "short"
    assert (
        short.motion.x_mm >= 40.0 + shop.machine.cutter.diameter_mm + shop.machine.clamp_safety_mm
    )


def test_what_fills_its_blank_stays_there_though_no_other_sheet_is_left() -> None:
    shop = replace(SHOP, stock=(replace(SHOP.stock[0], quantity=1),))
    long, short = piece("long", 584, 284, "old"), piece("short", 384, 284, "new")
    found = again(long, short, shop)
    assert {p.piece: p.motion for p in found.placed} == SPOTS
    # With a larger change the other stays all the same.
    found = again(long, piece("short", 385, 284, "new"), shop)
    assert {p.piece: p.motion for p in found.placed} == {"long": SPOTS["long"]}
