"""What a layer's name says about the shapes on it: role, depth, face, diameter.

Names differ from shop to shop, so the rules are a plain table of word parts in order; the
first that is found decides. A maker's own decision for a layer always wins over the table.
A depth stands in the name as a number: ``pocket 6``, ``dado 3/8 in``, ``drill 12 d8`` (12 deep,
8 across), ``engrave 0.5 back``. A bare number is in the drawing's unit.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from core.errors import BadLengthError
from core.outlines.model import Face, Role
from core.units import parse_length

Rule = tuple[str, Role]

#: Word parts in the order they are tried; "=word" must be a whole word of the name.
DEFAULT_RULES: tuple[Rule, ...] = (
    ("do not cut", Role.IGNORE),
    ("dont cut", Role.IGNORE),
    ("no cut", Role.IGNORE),
    ("nocut", Role.IGNORE),
    ("not cut", Role.IGNORE),
    ("ignore", Role.IGNORE),
    ("defpoints", Role.IGNORE),
    ("dimension", Role.IGNORE),
    ("=dim", Role.IGNORE),
    ("=dims", Role.IGNORE),
    ("annot", Role.IGNORE),
    ("construct", Role.IGNORE),
    ("=guide", Role.IGNORE),
    ("=guides", Role.IGNORE),
    ("=hidden", Role.IGNORE),
    ("centerline", Role.IGNORE),
    ("centreline", Role.IGNORE),
    ("center line", Role.IGNORE),
    ("centre line", Role.IGNORE),
    ("=title", Role.IGNORE),
    ("=border", Role.IGNORE),
    ("=frame", Role.IGNORE),
    ("=text", Role.IGNORE),
    ("=notes", Role.IGNORE),
    ("=note", Role.IGNORE),
    ("=label", Role.IGNORE),
    ("=labels", Role.IGNORE),
    ("viewport", Role.IGNORE),
    ("=grain", Role.IGNORE),
    ("pocket", Role.POCKET),
    ("recess", Role.POCKET),
    ("mortise", Role.POCKET),
    ("mortice", Role.POCKET),
    ("dado", Role.DADO),
    ("=housing", Role.DADO),
    ("groove", Role.DADO),
    ("rebate", Role.REBATE),
    ("rabbet", Role.REBATE),
    ("engrav", Role.ENGRAVE),
    ("etch", Role.ENGRAVE),
    ("=score", Role.ENGRAVE),
    ("scoring", Role.ENGRAVE),
    ("=marking", Role.ENGRAVE),
    ("drill", Role.DRILL),
    ("=bore", Role.DRILL),
    ("boring", Role.DRILL),
    ("outside", Role.CUT),
    ("inside", Role.CUT),
    ("outline", Role.CUT),
    ("profile", Role.CUT),
    ("contour", Role.CUT),
    ("perimeter", Role.CUT),
    ("through", Role.CUT),
    ("=cut", Role.CUT),
    ("cutting", Role.CUT),
    ("=sheet", Role.SHEET),
    ("=sheets", Role.SHEET),
    ("=stock", Role.SHEET),
)

_BACK = re.compile(r"\b(?:back|underside|bottom|rear|reverse)\b")
_WITH_DEPTH = (Role.POCKET, Role.DADO, Role.REBATE, Role.DRILL, Role.ENGRAVE)
_LENGTH = r"(\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?|[.,]\d+)"
_UNIT = r"\s*(mm|cm|inches|inch|in|thou|mil|\"|″)?(?![a-z0-9])"
_DIAMETER = re.compile(rf"(?:\bdia(?:meter|m)?\.?|\bd|[øØ⌀])\s*{_LENGTH}{_UNIT}")
_DEPTH_WORD = re.compile(rf"(?:\bdepth|\bdeep|\bz|\bd(?=[\d.]))\s*-?\s*{_LENGTH}{_UNIT}")
_PLAIN = re.compile(rf"(?<![a-z0-9.,/]){_LENGTH}{_UNIT}")


@dataclass(frozen=True, slots=True)
class LayerMeaning:
    """What the shapes on a layer are. depth_mm None: not said. known: the name says the role."""

    role: Role
    depth_mm: float | None = None
    face: Face = Face.SHOW
    diameter_mm: float | None = None
    known: bool = True


def meaning_of(
    name: str, *, unit: str = "mm", rules: Iterable[Rule] = DEFAULT_RULES
) -> LayerMeaning:
    """What a layer's name says.

    unit: of bare numbers in the name. A name no rule matches means CUT, known False.

    >>> meaning_of("Pocket_6mm_back")
    LayerMeaning(role=<Role.POCKET: 'pocket'>, depth_mm=6.0, face=<Face.BACK: 'back'>, \
diameter_mm=None, known=True)
    """
    tidy = re.sub(r"[\s_\-]+", " ", name.lower()).strip()
    role = next((role for part, role in rules if _matches(part, tidy)), None)
    if role is None:
        return LayerMeaning(Role.CUT, known=False)
    if role not in _WITH_DEPTH:
        return LayerMeaning(role)
    diameter = None
    found = _DIAMETER.search(tidy)
    if found and role is Role.DRILL:
        diameter = _length(found, unit)
        tidy = tidy[: found.start()] + " " + tidy[found.end() :]
    depth = None
    found = _DEPTH_WORD.search(tidy) or _PLAIN.search(tidy)
    if found:
        depth = _length(found, unit)
    return LayerMeaning(role, depth, Face.BACK if _BACK.search(tidy) else Face.SHOW, diameter)


def decided(
    layers: Iterable[str],
    choices: Mapping[str, Role | LayerMeaning | str] | None,
    *,
    unit: str = "mm",
    rules: Iterable[Rule] = DEFAULT_RULES,
) -> dict[str, LayerMeaning]:
    """The meaning of every layer: the maker's choice where there is one, else the table's.

    choices: layer name (letter case ignored) → role or full meaning; a bare role keeps depth,
    face and diameter that the name states. Raises ValueError for a role nobody knows.
    """
    rule_table = tuple(rules)
    own = {name.lower(): choice for name, choice in (choices or {}).items()}
    out: dict[str, LayerMeaning] = {}
    for name in layers:
        read = meaning_of(name, unit=unit, rules=rule_table)
        choice = own.get(name.lower())
        if isinstance(choice, LayerMeaning):
            out[name] = choice
        elif choice is not None:
            role = Role(choice)
            if role in _WITH_DEPTH and read.role not in _WITH_DEPTH:
                # The table saw no feature here, so the numbers have not been read yet.
                read = meaning_of(f"{role.value} {name}", unit=unit)
            out[name] = replace(read, role=role, known=True)
        else:
            out[name] = read
    return out


def with_something_to_cut(
    meanings: Mapping[str, LayerMeaning],
    choices: Mapping[str, Role | LayerMeaning | str] | None,
) -> tuple[dict[str, LayerMeaning], tuple[str, ...]]:
    """Meanings in which at least one layer is cut, and the layers changed for it.

    Layers are often named after parts (“Frame”, “Sheet rack”). If the table would leave
    nothing to cut at all, it has misread the names it set aside, so those are cut after all;
    a maker's own choice is never touched.
    """
    if any(meaning.role is Role.CUT for meaning in meanings.values()):
        return dict(meanings), ()
    own = {name.lower() for name in choices or {}}
    aside = tuple(
        name
        for name, meaning in meanings.items()
        if meaning.role in (Role.IGNORE, Role.SHEET) and name.lower() not in own
    )
    return {**meanings, **{name: LayerMeaning(Role.CUT, known=False) for name in aside}}, aside


def _matches(part: str, tidy: str) -> bool:
    """True if a rule's word part is in a tidied name."""
    if part.startswith("="):
        return re.search(rf"\b{re.escape(part[1:])}\b", tidy) is not None
    return part in tidy


def _length(found: re.Match[str], unit: str) -> float | None:
    """The length a match holds, None if it is none after all."""
    text = found.group(1) + (f" {found.group(2)}" if found.group(2) else "")
    try:
        return parse_length(text.replace(",", "."), unit, allow_zero=False)
    except BadLengthError:
        return None
