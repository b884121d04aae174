"""Seam styles: the geometry of one joint, its fit, relief and what the bit can reach."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from core.errors import InvalidGeometryError
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
from core.shop import ToothDrawing

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


def style_book(own: Iterable[OwnProfile | ToothDrawing] = ()) -> StyleBook:
    """The built-in styles and the maker's own teeth, each as "own:NAME"."""
    styles = dict(STYLES)
    for tooth in own:
        if isinstance(tooth, ToothDrawing):
            style = OwnTooth(OwnProfile(tooth.name, tooth.points), rounded=tooth.rounded)
        else:
            style = OwnTooth(tooth)
        styles[style.name] = style
    return StyleBook(styles)


@lru_cache(maxsize=64)
def styles_of(teeth: tuple[ToothDrawing, ...]) -> StyleBook:
    """The built-in styles and a shop's drawn teeth; a drawing that is no tooth is left out."""
    good = []
    for tooth in teeth:
        try:
            OwnProfile(tooth.name, tooth.points).upright()
        except InvalidGeometryError:
            continue
        good.append(tooth)
    return style_book(good)


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
    "styles_of",
    "tooth_from_points",
]
