"""What is written out in the source: constants, tables, and the cells of tuples."""

from __future__ import annotations

import ast
from collections.abc import Iterator

from app.wording.source import Module, Place, World, call_name, inside, own_nodes, returns

#: functions that give a value, not words: numbers, lengths and places.
VALUES = frozenset({
    "format_length", "fine_length", "format_size", "place_text", "small_text", "money", "percent",
    "area", "mass", "length", "len", "str", "round", "int", "max", "min", "abs", "sum", "next",
    "repr",
})  # fmt: skip


def constant_of(world: World, name: str, place: Place) -> tuple[ast.expr | None, Module]:
    """The constant a name means in a module or where that has it from, and its module."""
    module = place.module
    if name in module.constants:
        return module.constants[name], module
    if name in module.imported:
        origin, name = module.imported[name]
        home = world.modules.get(origin)
        if home is not None and name in home.constants:
            return home.constants[name], home
    return None, module


def values_of(world: World, node: ast.expr, place: Place) -> list[ast.expr]:
    """The values of a table written out in the source."""
    if isinstance(node, ast.Name):
        found, _ = constant_of(world, node.id, place)
        if found is None:
            local = [
                n.value
                for f in place.functions
                for n in own_nodes(f)
                if isinstance(n, ast.Assign)
                and any(isinstance(t, ast.Name) and t.id == node.id for t in n.targets)
            ]
            found = local[0] if len(local) == 1 else None
        node = found if found is not None else node
    return list(node.values) if isinstance(node, ast.Dict) else []


def cells(world: World, value: ast.expr, at: int, place: Place) -> Iterator[tuple[ast.expr, Place]]:
    """Every expression that may give the element of a tuple with this number."""
    if isinstance(value, ast.Tuple) and at < len(value.elts):
        yield value.elts[at], place
    elif isinstance(value, ast.IfExp):
        yield from cells(world, value.body, at, place)
        yield from cells(world, value.orelse, at, place)
    elif isinstance(value, ast.Call) and call_name(value) not in VALUES:
        found = world.function(value, place)
        if found is not None:
            for row in returns(found[1]):
                yield from cells(world, row, at, inside(value, found, place))
    elif isinstance(value, ast.Subscript):
        for row in values_of(world, value.value, place):
            yield from cells(world, row, at, place)
    elif isinstance(value, ast.Name):
        for function in place.functions[:1]:
            for node in own_nodes(function):
                if (
                    isinstance(node, ast.Assign)
                    and any(isinstance(t, ast.Name) and t.id == value.id for t in node.targets)
                    and not isinstance(node.value, ast.Name)
                ):
                    yield from cells(world, node.value, at, place)
