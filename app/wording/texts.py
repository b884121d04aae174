"""What a text of the core can be: an expression of its source worked out to templates.

A template is a row of plain texts and of holes for what is only known when the program runs.
Alternatives (a plural, a word chosen by a condition) become templates of their own where they
are few; else the place stays a hole for words that are themselves templates.
"""

from __future__ import annotations

import ast
import re
import string
from collections.abc import Iterable, Iterator
from itertools import pairwise

from app.wording.source import (
    Function,
    Place,
    World,
    argument,
    call_name,
    default_of,
    inside,
    is_local,
    own_nodes,
    parameters,
    returns,
)
from app.wording.template import (
    Hole,
    Template,
    collapsed,
    has_words,
    holds_words,
    hole_name,
    is_plain,
    joined,
    lower_first,
    lowered,
    trimmed,
)
from app.wording.written_out import VALUES, cells, constant_of, values_of

#: fields that hold sentences or words for a reader, whatever class they belong to
TEXT_FIELDS = frozenset({
    "what", "where", "why", "reason", "reasons", "doubts", "how", "notes", "message", "remedy",
    "problem", "title", "note", "mating", "needs", "because", "no_teeth",
})  # fmt: skip
# Fields and parameters that hold a word, where no enum tells which.
_WORDS = frozenset({"label", "kind", "reading", "role", "joint_class"})
# Functions that put names into the text they are given.
_NAMING = frozenset({"_named"})
_SAME = frozenset({"strip", "rstrip", "lstrip", "removesuffix", "removeprefix", "capitalize"})
_LISTS = frozenset({"tuple", "list", "sorted", "set", "reversed", "frozenset", "fromkeys"})
_MOST_INLINE = 4  # whole sentences made of one by its alternatives
_MOST = 80
_DEEP = 9


class Texts:
    """Works expressions out; ``fragments`` gathers what fills holes for words."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.fragments: dict[Template, str] = {}  # template → module it was first seen in
        self.separators: set[str] = set()
        self._busy: list[int] = []

    def of(self, node: ast.expr, place: Place) -> list[Template]:
        """Every text an expression may give."""
        if id(node) in self._busy or len(self._busy) > _DEEP * 4:
            return [(Hole(hole_name(node)),)]
        self._busy.append(id(node))
        try:
            found = list(dict.fromkeys(self._of(node, place)))
        finally:
            self._busy.pop()
        return found[:_MOST]

    def _of(self, node: ast.expr, place: Place) -> Iterable[Template]:
        if isinstance(node, ast.Constant):
            if isinstance(node.value, str):
                return [(node.value,)]
            return [()] if node.value is None else [(Hole("n", "number"),)]
        if isinstance(node, ast.JoinedStr):
            return self._joined_str(node, place)
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
            return self._product(
                [(self.of(node.left, place), node.left), (self.of(node.right, place), node.right)],
                place,
            )
        if isinstance(node, ast.IfExp):
            return [*self.of(node.body, place), *self.of(node.orelse, place)]
        if isinstance(node, ast.BoolOp):
            return self._either(node, place)
        if isinstance(node, ast.Name):
            return self._named(node, place)
        if isinstance(node, ast.Call):
            return self._call(node, place)
        if isinstance(node, ast.Attribute):
            return self._attribute(node, place)
        if isinstance(node, ast.Subscript):
            return self._subscript(node, place)
        return [(Hole(hole_name(node)),)]

    # --- put together -----------------------------------------------------------------------

    def _joined_str(self, node: ast.JoinedStr, place: Place) -> Iterable[Template]:
        rows: list[tuple[list[Template], ast.expr]] = []
        values = list(node.values)
        skip = False
        for value, after in pairwise([*values, None]):
            if skip:
                skip = False
                continue
            if isinstance(value, ast.FormattedValue):
                small = lowered(value, after)
                if small is not None:
                    rows.append(([lower_first(t) for t in self.of(small, place)], small))
                    skip = True
                elif value.format_spec is not None:
                    spec = ast.unparse(value.format_spec)
                    kind = "number" if re.search(r"[\dgfd.]", spec) else "value"
                    rows.append(([(Hole(hole_name(value.value), kind),)], value.value))
                else:
                    rows.append((self.of(value.value, place), value.value))
            elif value is not None:
                rows.append((self.of(value, place), value))
        return self._product(rows, place)

    def _product(
        self, rows: list[tuple[list[Template], ast.expr]], place: Place
    ) -> Iterable[Template]:
        """All ways to put alternatives one after the other, or holes where those are many."""
        rows = [(collapsed(found, node), node) for found, node in rows]
        made: list[Template] = [()]
        # The fewest alternatives first: a plural is worth more as a whole sentence than a list.
        order = sorted(range(len(rows)), key=lambda k: len(rows[k][0]))
        room, inline = _MOST_INLINE, set()
        for k in order:
            many = len(rows[k][0])
            if many <= room:
                inline.add(k)
                room //= max(1, many)
        for k, (found, node) in enumerate(rows):
            if k not in inline:
                found = [(self.words_hole(found, hole_name(node), place),)]
            made = [joined(head, tail) for head in made for tail in found]
        return made

    def words_hole(self, found: Iterable[Template], name: str, place: Place) -> Hole:
        """A hole for these texts, which are templates of their own if they have words."""
        spoken = [t for t in found if has_words(t) or holds_words(t)]
        for template in spoken:
            self.fragments.setdefault(template, place.module.name)
        inner = any(isinstance(p, Hole) and p.kind == "words" for t in found for p in t)
        return Hole(name, "words" if spoken or inner else "value")

    def _either(self, node: ast.BoolOp, place: Place) -> Iterable[Template]:
        found: list[Template] = []
        for value in node.values:
            row = self.of(value, place)
            if isinstance(node.op, ast.Or):
                row = [t for t in row if t not in ((), ("",))]
            found += row
            if row and isinstance(node.op, ast.Or) and all(is_plain(t) for t in row):
                break
        return found

    # --- names ------------------------------------------------------------------------------

    def _named(self, node: ast.Name, place: Place) -> Iterable[Template]:
        name = node.id
        for k, function in enumerate(place.functions):
            here = Place(place.module, place.functions[k:], place.bound if k == 0 else None)
            given = list(self._given(name, function, here))
            if given:
                return [t for texts in given for t in texts]
            if name in parameters(function):
                return self._parameter(name, function, here)
        constant, home = constant_of(self.world, name, place)
        if constant is not None:
            return self.of(constant, Place(home))
        return [(Hole(hole_name(node), "words" if name in _WORDS else "value"),)]

    def _given(self, name: str, function: Function, place: Place) -> Iterator[list[Template]]:
        """What a function itself gives a name."""
        for node in own_nodes(function):
            if isinstance(node, ast.Assign):
                for target in node.targets:
                    yield from self._taken(name, target, node.value, place)
            elif isinstance(node, ast.AnnAssign | ast.NamedExpr) and node.value is not None:
                yield from self._taken(name, node.target, node.value, place)
            elif isinstance(node, ast.AugAssign) and isinstance(node.op, ast.Add):
                if isinstance(node.target, ast.Name) and node.target.id == name:
                    if isinstance(node.value, ast.List | ast.ListComp | ast.Tuple):
                        continue
                    end = self.words_hole(self.of(node.value, place), name, place)
                    if end.kind == "words":
                        self.separators.add("")
                    yield [(Hole(name, end.kind),)]
            elif isinstance(node, ast.For | ast.comprehension):
                if isinstance(node.target, ast.Name) and node.target.id == name:
                    yield self.elements(node.iter, place)
                elif isinstance(node.target, ast.Tuple):
                    yield from self._columns(name, node.target, node.iter, place)

    def _taken(
        self, name: str, target: ast.expr, value: ast.expr, place: Place
    ) -> Iterator[list[Template]]:
        if isinstance(target, ast.Name) and target.id == name:
            yield self.of(value, place)
        elif isinstance(target, ast.Tuple):
            at = next(
                (k for k, t in enumerate(target.elts) if isinstance(t, ast.Name) and t.id == name),
                None,
            )
            if at is not None:
                yield self._column(value, at, place)

    def _column(self, value: ast.expr, at: int, place: Place) -> list[Template]:
        """What the element of a tuple with this number may be."""
        found = [
            t for node, there in cells(self.world, value, at, place) for t in self.of(node, there)
        ]
        return list(dict.fromkeys(found)) or [(Hole("value"),)]

    def _columns(
        self, name: str, target: ast.Tuple, rows: ast.expr, place: Place
    ) -> Iterator[list[Template]]:
        """What a name among several that a loop sets may be, where the rows are written out."""
        at = next(
            (k for k, t in enumerate(target.elts) if isinstance(t, ast.Name) and t.id == name), None
        )
        if at is None:
            return
        if name in _WORDS:
            yield [(Hole(name, "words"),)]
            return
        if isinstance(rows, ast.Name) and not is_local(rows.id, place):
            constant, home = constant_of(self.world, rows.id, place)
            if constant is not None:
                rows, place = constant, Place(home)
        if isinstance(rows, ast.Call) and call_name(rows) == "zip" and at < len(rows.args):
            yield self.elements(rows.args[at], place) or [(Hole(name),)]
        elif isinstance(rows, ast.Call) and call_name(rows) == "enumerate":
            yield self.elements(rows.args[0], place) if at else [(Hole(name, "number"),)]
        elif isinstance(rows, ast.Call) and call_name(rows) == "items":
            yield self._items(rows, at, place) or [(Hole(name),)]
        elif isinstance(rows, ast.Tuple | ast.List):
            yield [t for row in rows.elts for t in self._column(row, at, place)]
        else:
            yield [(Hole(name),)]

    def _items(self, rows: ast.Call, at: int, place: Place) -> list[Template]:
        """Keys or values of a table written out, or names of what a call gives by name."""
        base = rows.func.value if isinstance(rows.func, ast.Attribute) else rows
        found: list[Template] = []
        for function in place.functions[:1]:
            rest = function.args.kwarg
            if at == 0 and rest is not None and isinstance(base, ast.Name) and base.id == rest.arg:
                for call, _ in self.world.calls.get(function.name, []):
                    named = [word.arg for word in call.keywords if word.arg]
                    found += [(name.replace("_", " "),) for name in named]
        if at == 1:
            found += [
                t for value in values_of(self.world, base, place) for t in self.of(value, place)
            ]
        return list(dict.fromkeys(found))

    def _parameter(self, name: str, function: Function, place: Place) -> Iterable[Template]:
        """What callers give for a parameter."""
        if place.bound is not None:
            if name in place.bound:
                return self.of(*place.bound[name])
            given = default_of(name, function)
            return self.of(given, Place(place.module)) if given is not None else [()]
        if name in TEXT_FIELDS and function.name == "__init__":
            return [(Hole(name, "words"),)]
        found: list[Template] = []
        for call, there in self.world.calls.get(function.name, []):
            if there.module is not place.module and (
                self.world.function(call, there) != (place.module, function)
            ):
                continue
            value = argument(call, name, function)
            if value is not None:
                found += self.of(value, there)
            elif (given := default_of(name, function)) is not None:
                found += self.of(given, Place(place.module))
        given = default_of(name, function)
        if given is not None and name in TEXT_FIELDS:
            found += self.of(given, Place(place.module))  # said by whoever calls from outside
        told = name in TEXT_FIELDS or (name == "text" and "fraction" in parameters(function))
        return found or [(Hole(name, "words" if told else "value"),)]

    # --- calls, fields, parts ---------------------------------------------------------------

    def _call(self, node: ast.Call, place: Place) -> Iterable[Template]:
        name = call_name(node)
        if isinstance(node.func, ast.Attribute):
            base = node.func.value
            if name == "join" and len(node.args) == 1:
                return self._join(base, node.args[0], place)
            if name == "format":
                return [t for s in self.of(base, place) for t in self._formatted(s, node, place)]
            if name in _SAME:
                found = self.of(base, place)
                return [trimmed(t, name, node) for t in found]
            if name == "lower":
                lowered = (
                    tuple(p.lower() if isinstance(p, str) else p for p in t)
                    for t in self.of(base, place)
                )
                return list(lowered)
            if name == "replace":
                return self.of(base, place)
            if name == "get":
                values = values_of(self.world, base, place)
                if values:
                    more = [t for d in node.args[1:] for t in self.of(d, place)]
                    return [*(t for value in values for t in self.of(value, place)), *more]
        if name in _NAMING:
            return self.of(node.args[0], place)
        found_function = self.world.function(node, place)
        if name in VALUES or found_function is None:
            kind = "number" if name in ("len", "round", "int") else "value"
            return [(Hole(hole_name(node), kind),)]
        inner = inside(node, found_function, place)
        return [t for r in returns(found_function[1]) for t in self.of(r, inner)]

    def _join(self, between: ast.expr, row: ast.expr, place: Place) -> Iterable[Template]:
        for separator in self.of(between, place):
            if is_plain(separator):
                self.separators.add("".join(str(p) for p in separator))
        elements = self.elements(row, place)
        hole = self.words_hole(elements, hole_name(row), place)
        if hole.kind == "value" and any(has_words((s,)) for s in self.separators):
            hole = Hole(hole.name, "list")
        return [(hole,)]

    def _formatted(self, template: Template, node: ast.Call, place: Place) -> Iterator[Template]:
        """``str.format`` on a text of the source."""
        rows: list[tuple[list[Template], ast.expr]] = []
        named = {k.arg: k.value for k in node.keywords}
        for part in template:
            if isinstance(part, Hole):
                rows.append(([(part,)], node))
                continue
            count = 0
            for text, key, _, _ in string.Formatter().parse(part):
                rows.append(([(text,)], node))
                if key is None:
                    continue
                index = int(key) if key.isdigit() else count
                count += not key
                value = named.get(key) if key and not key.isdigit() else node.args[index]
                if value is not None:
                    rows.append((self.of(value, place), value))
        yield from self._product(rows, place)

    def _attribute(self, node: ast.Attribute, place: Place) -> Iterable[Template]:
        last = node.value if node.attr == "value" else node
        if isinstance(last, ast.Name | ast.Attribute):
            named = last.id if isinstance(last, ast.Name) else last.attr
            owner = hole_name(last.value) if isinstance(last, ast.Attribute) else ""
            values = self.world.values(named, owner, place, sure=last is node)
            if values:
                return [(value,) for value in values]
        words = node.attr in TEXT_FIELDS or node.attr in _WORDS or hole_name(node) in _WORDS
        return [(Hole(hole_name(node), "words" if words else "value"),)]

    def _subscript(self, node: ast.Subscript, place: Place) -> Iterable[Template]:
        if isinstance(node.slice, ast.Slice):
            return [(Hole(hole_name(node)),)]
        values = values_of(self.world, node.value, place)
        if values:
            return [t for value in values for t in self.of(value, place)]
        if isinstance(node.value, ast.Attribute) and node.value.attr in TEXT_FIELDS:
            return [(Hole(node.value.attr, "words"),)]
        found = self.elements(node.value, place) if isinstance(node.value, ast.Name) else []
        if any(has_words(t) for t in found):
            return found
        return [(Hole(hole_name(node)),)]

    def elements(self, node: ast.expr, place: Place) -> list[Template]:
        """Every text that may stand in a list of texts."""
        if id(node) in self._busy or len(self._busy) > _DEEP * 4:
            return []
        self._busy.append(id(node))
        try:
            found = list(self._elements(node, place))
        finally:
            self._busy.pop()
        return list(dict.fromkeys(found))[:_MOST]

    def _elements(self, node: ast.expr, place: Place) -> Iterator[Template]:
        if isinstance(node, ast.List | ast.Tuple | ast.Set):
            for item in node.elts:
                if isinstance(item, ast.Starred):
                    yield from self.elements(item.value, place)
                else:
                    yield from self.of(item, place)
        elif isinstance(node, ast.ListComp | ast.GeneratorExp | ast.SetComp):
            yield from self.of(node.elt, place)
        elif isinstance(node, ast.IfExp):
            yield from self.elements(node.body, place)
            yield from self.elements(node.orelse, place)
        elif isinstance(node, ast.BoolOp):
            for value in node.values:
                yield from self.elements(value, place)
        elif isinstance(node, ast.BinOp):
            yield from self.elements(node.left, place)
            yield from self.elements(node.right, place)
        elif isinstance(node, ast.Subscript):
            yield from self.elements(node.value, place)
        elif isinstance(node, ast.Attribute) and node.attr in TEXT_FIELDS:
            yield (Hole(node.attr, "words"),)
        elif isinstance(node, ast.Name):
            yield from self._named_list(node, place)
        elif isinstance(node, ast.Call):
            if call_name(node) in _LISTS and node.args:
                yield from self.elements(node.args[0], place)
                return
            found = self.world.function(node, place)
            if found is not None:
                inner = inside(node, found, place)
                for value in returns(found[1]):
                    yield from self.elements(value, inner)

    def _named_list(self, node: ast.Name, place: Place) -> Iterator[Template]:
        name = node.id
        for k, function in enumerate(place.functions):
            here = Place(place.module, place.functions[k:], place.bound if k == 0 else None)
            for item in own_nodes(function):
                yield from self._added(name, item, here)
            if name in parameters(function):
                if here.bound is not None:
                    if name in here.bound:
                        yield from self.elements(*here.bound[name])
                    continue
                for call, there in self.world.calls.get(function.name, []):
                    value = argument(call, name, function)
                    if value is not None and there.module is place.module:
                        yield from self.elements(value, there)
        constant, home = constant_of(self.world, name, place)
        if constant is not None:
            yield from self.elements(constant, Place(home))

    def _added(self, name: str, item: ast.AST, place: Place) -> Iterator[Template]:
        """What one statement puts into a list of this name."""
        if isinstance(item, ast.Assign):
            for target in item.targets:
                if isinstance(target, ast.Name) and target.id == name:
                    yield from self.elements(item.value, place)
                elif isinstance(target, ast.Tuple):
                    for at, part in enumerate(target.elts):
                        if isinstance(part, ast.Name) and part.id == name:
                            for cell, there in cells(self.world, item.value, at, place):
                                yield from self.elements(cell, there)
        elif isinstance(item, ast.AnnAssign | ast.AugAssign) and item.value is not None:
            if isinstance(item.target, ast.Name) and item.target.id == name:
                yield from self.elements(item.value, place)
        elif (
            isinstance(item, ast.Call)
            and isinstance(item.func, ast.Attribute)
            and isinstance(item.func.value, ast.Name)
            and item.func.value.id == name
            and item.args
        ):
            if item.func.attr == "append":
                yield from self.of(item.args[0], place)
            elif item.func.attr == "insert":
                yield from self.of(item.args[1], place)
            elif item.func.attr in ("extend", "update"):
                yield from self.elements(item.args[0], place)
