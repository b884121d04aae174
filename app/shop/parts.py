"""The sections of the shop drawer in order."""

from __future__ import annotations

from app.i18n import tr
from app.shop.boards import BoardsPart
from app.shop.fits import FitsPart
from app.shop.machine import BitsPart, MachinePart
from app.shop.part import Part
from app.shop.rules import LimitsPart, RulesPart
from app.shop.sawing import HoldPart, SawPart
from app.shop.stock import StockPart
from app.widgets.forms import Section


def sections() -> list[tuple[str, Section, Part]]:
    """(key, section, part) of the drawer, in order."""
    rows: tuple[tuple[str, str, str, Part, bool], ...] = (
        ("machine", tr("Machine and clamps"), "router", MachinePart(), True),
        ("bits", tr("Bits"), "bit", BitsPart(), False),
        ("boards", tr("Boards"), "caliper", BoardsPart(), True),
        ("stock", tr("Sheets and offcuts"), "sheet", StockPart(), True),
        ("rules", tr("Distances"), "ruler", RulesPart(), False),
        ("fits", tr("Fits"), "joint", FitsPart(), False),
        ("limits", tr("Limits"), "weight", LimitsPart(), False),
        ("saw", tr("Saw"), "saw", SawPart(), False),
        ("holding", tr("What holds the parts"), "clamp", HoldPart(), False),
    )
    made = []
    for key, title, icon, part, is_open in rows:
        section = Section(title, icon, is_open=is_open)
        section.add(part)
        made.append((key, section, part))
    return made
