"""Every public function says what it is for and what it takes: a docstring, and a type for each argument and answer.

A method that answers for another of the same name (of a base class, a protocol, or of a library) is documented there,
and what a command does is said in the window's table of commands.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[1] / "src" / "loopwright"
MODULES = sorted(SOURCE.rglob("*.py"))
LONGEST_LINES = 500
Function = ast.FunctionDef | ast.AsyncFunctionDef


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def functions(tree: ast.Module) -> Iterator[tuple[ast.ClassDef | None, Function]]:
    """Functions of a module and methods of its classes."""
    for node in tree.body:
        if isinstance(node, Function):
            yield None, node
        elif isinstance(node, ast.ClassDef):
            yield from ((node, inner) for inner in node.body if isinstance(inner, Function))


@cache
def documented_methods() -> frozenset[str]:
    """Names of methods that some class of the program documents."""
    return frozenset(
        made.name
        for path in MODULES
        for owner, made in functions(parsed(path))
        if owner is not None and ast.get_docstring(made)
    )


def is_a_librarys(name: str) -> bool:
    """Whether a name is written as Qt writes its own, or is one that Qt or reportlab calls."""
    return (name != name.lower() and "_" not in name) or name in ("data", "wrap", "draw", "split")


def untyped(made: Function) -> list[str]:
    """Arguments without a type, `return` among them."""
    taken = [*made.args.posonlyargs, *made.args.args, *made.args.kwonlyargs, made.args.vararg, made.args.kwarg]
    lacking = [a.arg for a in taken if a is not None and a.annotation is None and a.arg not in ("self", "cls")]
    return lacking if made.returns is not None else [*lacking, "return"]


def lacks(path: Path) -> Iterator[str]:
    """What a module leaves unsaid."""
    tree = parsed(path)
    if not ast.get_docstring(tree):
        yield "the module has no docstring"
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_") and not ast.get_docstring(node):
            yield f"line {node.lineno}: {node.name} has no docstring"
    for owner, made in functions(tree):
        name = made.name if owner is None else f"{owner.name}.{made.name}"
        if made.name.startswith("_") or (owner is not None and owner.name.startswith("_")):
            continue
        if untyped(made):
            yield f"line {made.lineno}: {name} has no type for {', '.join(untyped(made))}"
        if ast.get_docstring(made):
            continue
        if owner is not None and owner.name.endswith("Commands"):
            continue
        if owner is None or not (is_a_librarys(made.name) or made.name in documented_methods()):
            yield f"line {made.lineno}: {name} has no docstring"


def test_what_is_public_is_typed_and_documented():
    assert [f"{path.relative_to(SOURCE)}, {what}" for path in MODULES for what in lacks(path)] == []


def test_no_module_is_too_long_to_be_read_at_once():
    assert [str(p) for p in MODULES if len(p.read_text(encoding="utf-8").splitlines()) > LONGEST_LINES] == []
