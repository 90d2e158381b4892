"""The table of rights and the code that asks it: no deed misspelt, none idle, no change unasked."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import labbook
from labbook.access import RIGHTS
from labbook.addresses import ADDRESSES, BY_DEVICE, PUBLIC, SEEN_BY

PACKAGE = Path(labbook.__file__).parent
ASKING = {"require", "may", "within_reach", "reach_of"}

# Steps of changes that have asked already, whichever right it was.
PARTS_OF_OTHERS = {"keep", "propose_break"}


def trees(folder: Path) -> Iterator[tuple[Path, ast.Module]]:
    for path in sorted(folder.rglob("*.py")):
        if "migrations" not in path.parts:
            yield path, ast.parse(path.read_text())


def name_called(call: ast.Call) -> str:
    called = call.func
    return called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")


def calls_in(tree: ast.AST) -> Iterator[ast.Call]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def deeds_asked() -> dict[str, Path]:
    """Every deed that is written out where rights are asked for."""
    return {
        str(argument.value): path
        for path, tree in trees(PACKAGE)
        for call in calls_in(tree)
        if name_called(call) in ASKING
        for argument in call.args
        if isinstance(argument, ast.Constant) and isinstance(argument.value, str)
        if " " in argument.value or argument.value in RIGHTS
    }


def test_every_deed_that_is_asked_for_is_in_the_table() -> None:
    asked = deeds_asked()
    assert {deed: path for deed, path in asked.items() if deed not in RIGHTS} == {}
    assert len(asked) > 20


def test_every_deed_in_the_table_is_asked_for() -> None:
    by_address = {deed for row in ADDRESSES.values() for deed in row.deeds}
    by_address |= set(SEEN_BY.values())
    written = "\n".join(
        path.read_text() for path, _ in trees(PACKAGE) if path.name not in ("access.py",)
    )
    idle = {deed for deed in RIGHTS if f'"{deed}"' not in written}
    assert idle == set()
    assert by_address - set(RIGHTS) <= {PUBLIC, BY_DEVICE}


def acts_by(function: ast.FunctionDef) -> bool:
    """Whether it changes something in the name of an account."""
    given = {one.arg: one.annotation for one in function.args.kwonlyargs if one.annotation}
    return "by" in given and ast.unparse(given["by"]) == "Account"


def asks(function: ast.FunctionDef) -> bool:
    """It asks the table, or hands on for whom it acts to a function that does."""
    return any(
        name_called(call) in ASKING
        or any(one.arg == "by" for one in call.keywords)
        or any(isinstance(one, ast.Name) and one.id == "by" for one in call.args)
        for call in calls_in(function)
    )


def test_every_change_in_somebodys_name_asks_for_the_right() -> None:
    actions = [
        (path, node)
        for path, tree in trees(PACKAGE / "actions")
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and acts_by(node)
    ]
    assert len(actions) > 50
    unasked = {one.name for _, one in actions if not asks(one)}
    assert unasked == PARTS_OF_OTHERS
