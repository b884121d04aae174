"""Seam styles: the geometry of one joint, its fit, relief and what the bit can reach."""

from __future__ import annotations

from collections.abc import Iterable

from core.joints.curved import RoundedTooth, Wave
from core.joints.half_lap import HalfLap
from core.joints.keyed import ButterflyKeys, StraightKeys
from core.joints.own import OwnProfile, OwnTooth, tooth_from_points
from core.joints.square import Dovetail, SquareFinger
from core.joints.style import (
    JointContext,
    Keys,
    Lap,
    Parameter,
    SeamStyle,
    StyleBook,
    StyleProperties,
    Tooth,
)

STYLES: dict[str, SeamStyle] = {
    style.name: style
    for style in (
        SquareFinger(),
        Dovetail(),
        RoundedTooth(),
        Wave(),
        StraightKeys(),
        ButterflyKeys(),
        HalfLap(),
    )
}


def style_book(own: Iterable[OwnProfile] = ()) -> StyleBook:
    """The built-in styles and the maker's own teeth, each as "own:NAME"."""
    styles = dict(STYLES)
    for profile in own:
        style = OwnTooth(profile)
        styles[style.name] = style
    return StyleBook(styles)


__all__ = [
    "STYLES",
    "JointContext",
    "Keys",
    "Lap",
    "OwnProfile",
    "OwnTooth",
    "Parameter",
    "SeamStyle",
    "StyleBook",
    "StyleProperties",
    "Tooth",
    "style_book",
    "tooth_from_points",
]
