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
FEATURE_ROLES = (Role.POCKET, Role.DADO, Role.REBATE, Role.DRILL, Role.ENGRAVE)
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


@dataclass(frozen=True, slots=True)
class LayerChoice:
    """What a maker decided about a layer, found again by its name (letter case ignored).

    role None: as the name says. depth_mm None: as the name says, unless through is set, which
    means right through. face, diameter_mm None: as the name says.
    """

    layer: str
    role: Role | None = None
    depth_mm: float | None = None
    through: bool = False
    face: Face | None = None
    diameter_mm: float | None = None

    def over(self, earlier: LayerChoice | None) -> LayerChoice:
        """This choice, and the earlier one where this one says nothing."""
        if earlier is None:
            return self
        depth, through = (
            (self.depth_mm, self.through)
            if self.through or self.depth_mm is not None
            else (earlier.depth_mm, earlier.through)
        )
        return LayerChoice(
            self.layer,
            self.role if self.role is not None else earlier.role,
            depth,
            through,
            self.face if self.face is not None else earlier.face,
            self.diameter_mm if self.diameter_mm is not None else earlier.diameter_mm,
        )

    def meaning(self, read: LayerMeaning, *, unit: str = "mm") -> LayerMeaning:
        """What the layer means with this choice over what its name says."""
        if self.role is not None:
            read = _with_role(read, self.role, self.layer, unit)
        depth = None if self.through else self.depth_mm
        return replace(
            read,
            depth_mm=depth if self.through or depth is not None else read.depth_mm,
            face=self.face or read.face,
            diameter_mm=self.diameter_mm or read.diameter_mm,
        )


#: What a maker may say about a layer: a role by itself, a full meaning, or single values.
Choice = Role | LayerMeaning | LayerChoice | str


def merged(*choices: Iterable[LayerChoice]) -> tuple[LayerChoice, ...]:
    """Choices of several lists, the later ones over the earlier ones, by layer."""
    out: dict[str, LayerChoice] = {}
    for rows in choices:
        for choice in rows:
            key = choice.layer.lower()
            out[key] = choice.over(out.get(key))
    return tuple(sorted(out.values(), key=lambda choice: choice.layer))


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
    if role not in FEATURE_ROLES:
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
    choices: Mapping[str, Choice] | None,
    *,
    unit: str = "mm",
    rules: Iterable[Rule] = DEFAULT_RULES,
) -> dict[str, LayerMeaning]:
    """The meaning of every layer: the maker's choice where there is one, else the table's.

    choices: layer name (letter case ignored) → role, full meaning or single values; what is not
    chosen stays as the name states it. Raises ValueError for a role nobody knows.
    """
    rule_table = tuple(rules)
    own = {name.lower(): choice for name, choice in (choices or {}).items()}
    out: dict[str, LayerMeaning] = {}
    for name in layers:
        read = meaning_of(name, unit=unit, rules=rule_table)
        choice = own.get(name.lower())
        if isinstance(choice, LayerMeaning):
            out[name] = choice
        elif isinstance(choice, LayerChoice):
            out[name] = choice.meaning(read, unit=unit)
        elif choice is not None:
            out[name] = _with_role(read, Role(choice), name, unit)
        else:
            out[name] = read
    return out


def _with_role(read: LayerMeaning, role: Role, name: str, unit: str) -> LayerMeaning:
    """A layer's meaning in another role; depth, face and diameter are what its name states."""
    if role in FEATURE_ROLES and read.role not in FEATURE_ROLES:
        # The table saw no feature here, so the numbers have not been read yet.
        read = meaning_of(f"{role.value} {name}", unit=unit)
    return replace(read, role=role, known=True)


def with_something_to_cut(
    meanings: Mapping[str, LayerMeaning],
    choices: Mapping[str, Choice] | None,
) -> tuple[dict[str, LayerMeaning], tuple[str, ...]]:
    """Meanings in which at least one layer is cut, and the layers changed for it.

    Layers are often named after parts (“Frame”, “Sheet rack”). If the table would leave
    nothing to cut at all, it has misread the names it set aside, so those are cut after all;
    a maker's own choice is never touched.
    """
    if any(meaning.role is Role.CUT for meaning in meanings.values()):
        return dict(meanings), ()
    own = {
        name.lower()
        for name, choice in (choices or {}).items()
        if not isinstance(choice, LayerChoice) or choice.role is not None
    }
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
