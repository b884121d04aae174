"""The source of the core as the gatherer of sentences reads it: functions, fields, enums, calls."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

Function = ast.FunctionDef
Functions = tuple[Function, ...]
CORE = Path(__file__).resolve().parents[2] / "core"


@dataclass(eq=False)
class Module:
    """One file: its functions by name, its constants, and where names come from."""

    name: str
    tree: ast.Module
    functions: dict[str, list[Function]] = field(default_factory=lambda: defaultdict(list))
    constants: dict[str, ast.expr] = field(default_factory=dict)
    imported: dict[str, tuple[str, str]] = field(default_factory=dict)
    classes: list[ast.ClassDef] = field(default_factory=list)
    #: every node with the functions it stands in, innermost first
    nodes: list[tuple[ast.AST, Functions]] = field(default_factory=list)


@dataclass(eq=False)
class Place:
    """Where an expression stands: its module and the functions round it, innermost first.

    bound: what the parameters of the innermost are in the call looked at, each with the place
    of that call; None where any call may be meant.
    """

    module: Module
    functions: tuple[Function, ...] = ()
    bound: dict[str, tuple[ast.expr, Place]] | None = None


@dataclass(eq=False)
class Class:
    """A class of the core: its fields in order (own and inherited), and its bases."""

    name: str
    fields: list[tuple[str, str]]
    bases: list[str]
    values: list[str]  # of an enum of texts


@dataclass(eq=False)
class World:
    """All modules, the classes in them and every call by the name that is called."""

    modules: dict[str, Module]
    classes: dict[str, Class]
    calls: dict[str, list[tuple[ast.Call, Place]]]
    #: name of a field or parameter → (class it is a field of or "", enum it is annotated with)
    kinds: dict[str, set[tuple[str, str]]]

    def values(self, name: str, owner: str, place: Place, *, sure: bool) -> list[str]:
        """Texts of the enums a name may hold.

        owner: what the field is said to be of, or "". sure: only by a class called like that.
        """
        module = place.module
        local = {node.name for node in module.classes} | set(module.imported)
        rows = self.kinds.get(name, set())
        found = {enum for kind, enum in rows if owner and owner in kind.lower()}
        if not found and not sure:
            found = {enum for kind, enum in rows if enum in local or (owner and kind in local)}
            found = found or {enum for _, enum in rows if len({e for _, e in rows}) == 1}
        return [value for enum in sorted(found) for value in self.classes[enum].values]

    def is_error(self, name: str) -> bool:
        """True if a class of this name is one of the core's errors."""
        if name == "SeamwrightError":
            return True
        known = self.classes.get(name)
        return known is not None and any(self.is_error(base) for base in known.bases)

    def function(self, call: ast.Call, place: Place) -> tuple[Module, Function] | None:
        """The function a call means, if it is one of the core that can be told."""
        module, name = place.module, call_name(call)
        if isinstance(call.func, ast.Attribute) and isinstance(call.func.value, ast.Name):
            base = call.func.value.id
            if base in module.imported:
                module = self.modules.get(".".join(module.imported[base])) or module
        elif name in module.imported and not module.functions.get(name):
            origin, name = module.imported[name]
            module = self.modules.get(origin) or module
            if name in module.imported and not module.functions.get(name):  # handed on
                origin, name = module.imported[name]
                module = self.modules.get(origin) or module
        found = module.functions.get(name, [])
        return (module, found[0]) if len(found) == 1 else None


def call_name(call: ast.Call) -> str:
    """The last name of what is called, "" where it has none."""
    f = call.func
    return f.attr if isinstance(f, ast.Attribute) else getattr(f, "id", "")


def read_world(folder: Path = CORE) -> World:
    """Read every module of the core."""
    modules = {}
    for path in sorted(folder.rglob("*.py")):
        parts = [folder.name, *path.relative_to(folder).with_suffix("").parts]
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        modules[name] = _read_module(name, path)
    classes: dict[str, Class] = {}
    every: list[Class] = []
    for module in modules.values():
        for definition in module.classes:
            found = _read_class(definition)
            every.append(found)
            known = classes.get(definition.name)
            if known is None or (found.values and not known.values):
                classes[definition.name] = found  # of two with one name the enum says words
    calls: dict[str, list[tuple[ast.Call, Place]]] = defaultdict(list)
    kinds: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for module in modules.values():
        for node, functions in module.nodes:
            if isinstance(node, ast.Call):
                calls[call_name(node)].append((node, Place(module, functions)))
            elif isinstance(node, ast.arg) and node.annotation is not None:
                for enum in _enums(ast.unparse(node.annotation), classes):
                    kinds[node.arg].add(("", enum))
    for known in every:
        for name, annotation in known.fields:
            for enum in _enums(annotation, classes):
                kinds[name].add((known.name, enum))
    return World(modules, classes, calls, kinds)


def _enums(annotation: str, classes: dict[str, Class]) -> list[str]:
    return [n for n in re.findall(r"\w+", annotation) if n in classes and classes[n].values]


def _read_module(name: str, path: Path) -> Module:
    module = Module(name, ast.parse(path.read_text(encoding="utf-8")))
    module.nodes.extend(_walk(module.tree))
    for node, _ in module.nodes:
        if isinstance(node, Function):
            module.functions[node.name].append(node)
        elif isinstance(node, ast.ClassDef):
            module.classes.append(node)
        elif isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                module.imported[alias.asname or alias.name] = (node.module, alias.name)
    for statement in module.tree.body:
        if isinstance(statement, ast.Assign):
            for target in statement.targets:
                if isinstance(target, ast.Name):
                    module.constants[target.id] = statement.value
        elif (
            isinstance(statement, ast.AnnAssign)
            and isinstance(statement.target, ast.Name)
            and statement.value is not None
        ):
            module.constants[statement.target.id] = statement.value
    return module


def _read_class(node: ast.ClassDef) -> Class:
    fields = [
        (row.target.id, ast.unparse(row.annotation))
        for row in node.body
        if isinstance(row, ast.AnnAssign) and isinstance(row.target, ast.Name)
    ]
    bases = [ast.unparse(base).split(".")[-1] for base in node.bases]
    values = []
    if "StrEnum" in bases:
        values = [
            row.value.value
            for row in node.body
            if isinstance(row, ast.Assign)
            and isinstance(row.value, ast.Constant)
            and isinstance(row.value.value, str)
        ]
    return Class(node.name, fields, bases, values)


def _walk(tree: ast.AST) -> Iterator[tuple[ast.AST, Functions]]:
    stack: list[tuple[ast.AST, Functions]] = [(tree, ())]
    while stack:
        node, functions = stack.pop()
        yield node, functions
        inner = (node, *functions) if isinstance(node, Function) else functions
        stack += [(child, inner) for child in reversed(list(ast.iter_child_nodes(node)))]


def parameters(function: Function) -> list[str]:
    a = function.args
    return [p.arg for p in (*a.posonlyargs, *a.args, *a.kwonlyargs)]


def default_of(name: str, function: Function) -> ast.expr | None:
    a = function.args
    placed = [*a.posonlyargs, *a.args]
    for parameter, value in zip(placed[len(placed) - len(a.defaults) :], a.defaults, strict=True):
        if parameter.arg == name:
            return value
    for parameter, given in zip(a.kwonlyargs, a.kw_defaults, strict=True):
        if parameter.arg == name:
            return given
    return None


def argument(call: ast.Call, name: str, function: Function) -> ast.expr | None:
    """What a call gives for a parameter."""
    for keyword in call.keywords:
        if keyword.arg == name:
            return keyword.value
    placed = [p.arg for p in (*function.args.posonlyargs, *function.args.args)]
    if placed[:1] in (["self"], ["cls"]):
        placed = placed[1:]
    if name in placed:
        at = placed.index(name)
        if at < len(call.args) and not any(isinstance(a, ast.Starred) for a in call.args[: at + 1]):
            return call.args[at]
    return None


def inside(call: ast.Call, found: tuple[Module, Function], place: Place) -> Place:
    """The place within a function as this call calls it."""
    module, function = found
    bound = {}
    for name in parameters(function):
        value = argument(call, name, function)
        if value is not None:
            bound[name] = (value, place)
    return Place(module, (function,), bound)


def returns(function: Function) -> list[ast.expr]:
    return [
        node.value
        for node in own_nodes(function)
        if isinstance(node, ast.Return) and node.value is not None
    ]


@cache
def own_nodes(function: Function) -> tuple[ast.AST, ...]:
    """Every node of a function but those of functions within it, in the order of the source."""
    found: list[ast.AST] = []
    stack: list[ast.AST] = [*reversed(function.body)]
    while stack:
        node = stack.pop()
        found.append(node)
        if not isinstance(node, Function | ast.Lambda):
            stack += reversed(list(ast.iter_child_nodes(node)))
    return tuple(found)


def is_local(name: str, place: Place) -> bool:
    return any(name in parameters(f) for f in place.functions)
