"""The plan: everything the workshop needs, as one frozen value, and its JSON form.

Reports, the command line and the window read this and nothing else.
"""

from core.plan.model import (
    Plan,
    PlanBlank,
    PlanHold,
    PlanOffcut,
    PlanPanel,
    PlanPiece,
    PlanPlacement,
    PlanSawCut,
    PlanSeam,
    PlanSetup,
    PlanSheet,
    PlanUnplaced,
    PlanWay,
    PurchaseLine,
    polygon_parts,
    rectangle_points,
)
from core.plan.plain import FORMAT, VERSION, plan_json

__all__ = [
    "FORMAT",
    "VERSION",
    "Plan",
    "PlanBlank",
    "PlanHold",
    "PlanOffcut",
    "PlanPanel",
    "PlanPiece",
    "PlanPlacement",
    "PlanSawCut",
    "PlanSeam",
    "PlanSetup",
    "PlanSheet",
    "PlanUnplaced",
    "PlanWay",
    "PurchaseLine",
    "plan_json",
    "polygon_parts",
    "rectangle_points",
]
