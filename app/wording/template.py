"""Templates: rows of plain texts and of holes for what is known only when the program runs."""

from __future__ import annotations

import ast
import re
from dataclasses import dataclass, replace

from app.wording.source import call_name

_LETTERS = re.compile(r"(?!(?:mm|cm|in|ft|kg|thou)[²³]?\b)\b[^\W\d_]{2,}")
_UNITS = re.compile(r"_(mm2|mm|deg|kg|m2|m)$")


@dataclass(frozen=True)
class Hole:
    """A place that is filled when the program runs.

    kind: "value", "number", "words" (of the table again), or "list" (values joined by words).
    """

    name: str
    kind: str = "value"


Template = tuple[str | Hole, ...]


def has_words(template: Template) -> bool:
    """True if there is something to translate."""
    return any(isinstance(part, str) and _LETTERS.search(part) for part in template)


def holds_words(template: Template) -> bool:
    """True for a frame like "{name}: {what}", which has no words but holds some."""
    kinds = [part.kind for part in template if isinstance(part, Hole)]
    said = "".join(part for part in template if isinstance(part, str))
    return "words" in kinds and bool(re.search(r'[:("“×]', said))


def joined(*parts: Template) -> Template:
    """Templates one after the other, neighbouring texts made one."""
    row: list[str | Hole] = []
    for part in (p for template in parts for p in template):
        if isinstance(part, str) and row and isinstance(row[-1], str):
            row[-1] += part
        elif part != "":
            row.append(part)
    return tuple(row)


def hole_name(node: ast.AST) -> str:
    """A name for a place by the expression that fills it."""
    if isinstance(node, ast.Name):
        name = node.id
    elif isinstance(node, ast.Attribute):
        short = node.attr in ("value", "name", "text")
        name = hole_name(node.value) if short else node.attr
    elif isinstance(node, ast.Call) and node.args:
        name = hole_name(node.args[0])
    elif isinstance(node, ast.Call):
        name = call_name(node)
    elif isinstance(node, ast.Subscript | ast.Starred):
        name = hole_name(node.value)
    elif isinstance(node, ast.BinOp):
        left = hole_name(node.left)
        name = left if left != "value" else hole_name(node.right)
    elif isinstance(node, ast.BoolOp):
        name = hole_name(node.values[0])
    elif isinstance(node, ast.IfExp):
        name = hole_name(node.body)
    elif isinstance(node, ast.ListComp | ast.GeneratorExp):
        name = hole_name(node.generators[0].iter)
    else:
        name = "value"
    return _UNITS.sub("", name.strip("_").lower()) or "value"


def is_plain(template: Template) -> bool:
    return bool(template) and all(isinstance(part, str) for part in template)


def collapsed(found: list[Template], node: ast.expr) -> list[Template]:
    """Alternatives of which none has words are one place for a value, or for nothing."""
    if len(found) < 2 or any(has_words(t) for t in found):
        return found
    if all(isinstance(part, str) for t in found for part in t):
        return found  # the s of a plural
    holes = [p for t in found for p in t if isinstance(p, Hole)]
    words = any(hole.kind == "words" for hole in holes)
    name = holes[0].name if len(holes) == 1 else hole_name(node)
    return [(Hole(name, "words" if words else "value"),)]


def lower_first(template: Template) -> Template:
    first, *rest = template or ("",)
    return (first[:1].lower() + first[1:], *rest) if isinstance(first, str) else template


def trimmed(template: Template, how: str, node: ast.Call) -> Template:
    """``strip`` and its kin at the end that is a plain text."""
    if not template:
        return template
    signs = [str(a.value) for a in node.args if isinstance(a, ast.Constant)]
    first, last = template[0], template[-1]
    if how in ("rstrip", "strip", "removesuffix") and isinstance(last, str):
        cut = last.removesuffix(signs[0]) if how == "removesuffix" else last.rstrip(*signs)
        template = (*template[:-1], cut)
    if how in ("lstrip", "strip", "removeprefix") and isinstance(first, str):
        first = str(template[0])
        cut = first.removeprefix(signs[0]) if how == "removeprefix" else first.lstrip(*signs)
        template = (cut, *template[1:])
    if how == "capitalize" and isinstance(template[0], str):
        template = (template[0].capitalize(), *template[1:])
    return template


def numbered(template: Template) -> Template:
    """Holes with names of their own: the second ``size`` becomes ``size2``."""
    seen: dict[str, int] = {}
    row: list[str | Hole] = []
    for part in template:
        if isinstance(part, Hole):
            seen[part.name] = seen.get(part.name, 0) + 1
            if seen[part.name] > 1:
                part = replace(part, name=f"{part.name}{seen[part.name]}")
        row.append(part)
    return tuple(row)


def lowered(value: ast.FormattedValue, after: ast.expr | None) -> ast.expr | None:
    """X of ``{X[0].lower()}{X[1:]}``: a sentence going on within another one."""
    call = value.value
    if not (
        isinstance(call, ast.Call)
        and call_name(call) == "lower"
        and isinstance(call.func, ast.Attribute)
        and isinstance(call.func.value, ast.Subscript)
        and isinstance(after, ast.FormattedValue)
        and isinstance(after.value, ast.Subscript)
    ):
        return None
    first, rest = call.func.value.value, after.value.value
    return first if ast.dump(first) == ast.dump(rest) else None
