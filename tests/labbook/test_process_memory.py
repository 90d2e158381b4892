"""Several web processes serve one record: none may remember what another can change."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import labbook

FOLDER = Path(labbook.__file__).parent
# What a process may keep, since nothing that is recorded changes it.
KEPT_FOR_GOOD = {
    "exchange/package/contents.py: can_make_pdf": "whether this machine's libraries are there",
    "intake/clock.py: day_number": "a text read as a date",
}
CHANGING = {"append", "add", "update", "setdefault", "pop", "clear", "extend", "insert", "remove"}
# Programs of their own, and what runs once at a process's start.
APART = ("logger", "demonstration", "migrations", "management", "templatetags")


def modules() -> Iterator[tuple[str, ast.Module]]:
    for file in sorted(FOLDER.rglob("*.py")):
        name = file.relative_to(FOLDER)
        if name.parts[0] not in APART:
            yield name.as_posix(), ast.parse(file.read_text())


def functions(tree: ast.AST) -> Iterator[ast.FunctionDef]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


def name_of(node: ast.expr) -> str:
    """“cache” of ``@cache``, ``@functools.cache`` and ``@lru_cache(maxsize=8)``."""
    called = node.func if isinstance(node, ast.Call) else node
    return called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")


def remembering(tree: ast.Module) -> Iterator[str]:
    for function in functions(tree):
        if {"cache", "lru_cache"} & {name_of(one) for one in function.decorator_list}:
            yield function.name


def changed_in_place(tree: ast.Module) -> Iterator[str]:
    """Names of the module that a function changes: ``global``, ``X[…] = …``, ``X.append(…)``."""
    own = {
        target.id
        for node in tree.body
        if isinstance(node, ast.Assign | ast.AnnAssign)
        for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
        if isinstance(target, ast.Name)
    }
    for function in functions(tree):
        inside = {arg.arg for arg in ast.walk(function) if isinstance(arg, ast.arg)} | {
            node.id
            for node in ast.walk(function)
            if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)
        }
        for node in ast.walk(function):
            if isinstance(node, ast.Global):
                yield from node.names
            elif isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Store | ast.Del):
                yield from _named(node.value) & (own - inside)
            elif _changes_its_object(node):
                yield from _named(node.func.value) & (own - inside)  # of a call, as just seen


def _changes_its_object(node: ast.AST) -> bool:
    called = node.func if isinstance(node, ast.Call) else None
    return isinstance(called, ast.Attribute) and called.attr in CHANGING


def _named(node: ast.expr) -> set[str]:
    return {node.id} if isinstance(node, ast.Name) else set()


def test_only_what_nobody_can_change_is_remembered() -> None:
    found = {f"{name}: {one}" for name, tree in modules() for one in remembering(tree)}
    assert found == set(KEPT_FOR_GOOD)


def test_no_function_changes_what_its_module_holds() -> None:
    assert [f"{name}: {one}" for name, tree in modules() for one in changed_in_place(tree)] == []


def test_the_search_finds_what_it_looks_for() -> None:
    tree = ast.parse(
        "import functools\nseen = {}\nnames = []\n"
        "@functools.lru_cache(maxsize=8)\ndef a(x):\n    seen[x] = 1\n"
        "def b(seen):\n    seen[1] = 2\n    names.append(seen)\n"
    )
    assert list(remembering(tree)) == ["a"]
    assert list(changed_in_place(tree)) == ["seen", "names"]
