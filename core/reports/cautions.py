"""Reminders that fit the work of a plan. They never say that a cut or a lift is safe.

Every figure carries its source; what counts is the machine's own manual, the law of the place
and the word of those trained for the trade.
"""

from __future__ import annotations

from dataclasses import dataclass

from core.plan import Plan
from core.project.model import CutBy
from core.reports.cutlist import CutList
from core.reports.words import Words
from core.shop import SawKind

#: A mass above which people are advised to get help, the lower of two published filters.
LIFT_ADVICE_KG = 16.0

DEFER = (
    "These are reminders, not instructions. The manuals of your machines, bits and glues, the "
    "rules of your country and the advice of people trained and licensed for the work come first. "
    "If they say something else, they are right."
)


@dataclass(frozen=True, slots=True)
class Caution:
    """One reminder. source: where its figures come from, "" if it has none."""

    title: str
    text: str
    source: str = ""


def cautions(cut_list: CutList, words: Words) -> tuple[Caution, ...]:
    """Reminders for the tasks that the plan really holds, in the order of the day."""
    plan = cut_list.plan
    out: list[Caution] = []
    if plan.sheets:
        out.append(_lifting(cut_list, words))
    if any(s.saw_cuts for s in plan.sheets) or any(p.by is CutBy.SAW for p in plan.pieces):
        out.append(_sawing(cut_list))
    if any(p.by is CutBy.ROUTER for p in plan.pieces) and plan.sheets:
        out.append(_routing(plan))
    if plan.sheets:
        out += [_dust(plan), _noise()]
    if plan.seams:
        out.append(
            Caution(
                "Gluing up",
                "Read the glue's data sheet: gloves, air, open time and clamping pressure. Large "
                "panels spring when clamps are released; keep hands and feet clear.",
                "common practice, no source",
            )
        )
    out += [Caution("Mind on this plan", note) for note in plan.cautions]
    return tuple(out)


def _lifting(cut_list: CutList, words: Words) -> Caution:
    heaviest = max((s.sheet.mass_kg for s in cut_list.sheets), default=0.0)
    pounds = words.imperial
    filters = "55 lb (men) or 35 lb (women)" if pounds else "25 kg (men) or 16 kg (women)"
    load = "51 lb" if pounds else "23 kg"
    text = (
        f"The heaviest sheet here is reckoned at {words.mass(heaviest)}. Guidance asks for a "
        f"closer look at any lift above {filters} even close to the body at waist height, and "
        f"less when twisting, reaching or repeating; {load} is the starting figure of another "
        "method. Get a second person, a trolley or a panel lifter, or have the yard make the "
        "first cuts. Sheets leaning on a wall fall: secure them."
    )
    source = (
        "HSE INDG143 lifting filter (from memory); DHHS (NIOSH) 94-110 load constant, as quoted "
        "in secondary literature; masses from the board's density"
    )
    return Caution("Lifting", text, source)


def _sawing(cut_list: CutList) -> Caution:
    """For the saw of the shop: a bench with a fence, or a hand-held saw along a rail."""
    if cut_list.plan.project.shop.rules.saw is SawKind.BENCH:
        flagged = any(line.flagged for lines in cut_list.sheets for line in lines.saw)
        mind = (
            "A cut marked ! is shorter along the fence than across it: do not push such a part "
            "freehand along a fence; use a sliding table, a crosscut sled or a guided hand saw. "
        )
        return Caution(
            "Sawing",
            "Guard and riving knife fitted and set, blade sharp, push stick within reach (at "
            "least 300 mm, 12 in, long), no gloves, nobody in line with the blade. Saw benches "
            f"cause more accidents than any other woodworking machine. {mind if flagged else ''}"
            "Support both sides of long cuts so that the kerf cannot close.",
            "HSE Woodworking Sheet 16, as quoted in secondary literature",
        )
    return Caution(
        "Sawing",
        "Lay the board so that both sides of the cut are carried over its whole length and what "
        "comes off cannot fall or close the kerf. Fix the rail, set the blade only a little deeper "
        "than the board, see what lies below it. Guard and riving knife in place, both hands on "
        "the saw, cable and hose behind you, nobody in line with the blade. Let the blade stop "
        "before you lift the saw; pull the plug or the battery before you touch the blade.",
        "common practice, no source",
    )


def _routing(plan: Plan) -> Caution:
    clamps = plan.project.shop.machine.clamps
    stand = (
        "every clamp stands where the page shows it and that the bit clears it at its lowest"
        if clamps
        else "the bit at its lowest clears whatever holds the board"
    )
    return Caution(
        "Routing",
        f"Check that {stand}. Every piece and every slug must still be held when its outline "
        "closes: see the notes of each clamping. Run the program in the air first. Eye and "
        "hearing protection on, sleeves and hair tied back, stay within reach of the stop "
        "button, and never leave the machine running alone. Stop the spindle before reaching in. "
        "Speeds, feeds and depth per pass are the bit maker's and machine maker's to give.",
        "common practice, no source",
    )


def _dust(plan: Plan) -> Caution:
    text = (
        "Wood dust causes cancer in people (Group 1). Extract at the machine, wear a mask that "
        "fits, vacuum instead of blowing. Limits differ: for hardwood dust the UK lists 3 mg/m³ "
        "and the EU 2 mg/m³ over eight hours, US bodies recommend 1 mg/m³; local law decides. "
        "Treat MDF and chipboard like hardwood unless you know what they are made of."
    )
    return Caution(
        "Dust",
        text,
        "IARC vol. 62 and 100C; HSE EH40; Directive (EU) 2017/2398; NIOSH and ACGIH as listed by "
        "OSHA, all as quoted in secondary literature",
    )


def _noise() -> Caution:
    return Caution(
        "Noise",
        "Saws and routers are loud enough to harm. In Great Britain employers must act from "
        "80 dB(A) and provide protection zones from 85 dB(A), with 87 dB(A) as the limit at the "
        "ear; other places have their own figures. Wear hearing protection from the first cut.",
        "Control of Noise at Work Regulations 2005, reg. 4, as quoted in secondary literature",
    )


def is_heavy(plan: Plan, mass_kg: float) -> bool:
    """True above the lift set for the shop, or above the published filter where none is set."""
    limit = plan.project.shop.limits.lift_kg
    return mass_kg > (limit if limit is not None else LIFT_ADVICE_KG)
