"""Which small faults in a room would no test of it notice: `python -m tests.mutation lesson [--every N]`.

The tests of the room are collected and run once, which tells the functions that each of them enters. Then
each fault, one at a time, is put into its function in a forked process, and only the tests that enter the
function are run, the fastest first, until one fails. Nothing on the disk is changed.
"""

import ast
import copy
import gc
import os
import signal
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FrameType, FunctionType

import click
import pytest

TOP = Path(__file__).parents[1]
ROOMS = {
    "lesson": ("companion/lesson", ("tests/lesson",)),
    "log": ("companion/log", ("tests/log",)),
    "recording": ("companion/recording", ("tests/recording",)),
    "gesture": ("companion/pressing/gesture.py", ("tests/pressing/test_gesture.py",)),
    "guard": ("companion/pages/guard.py", ("tests/pages/test_guard.py",)),
}
"""The sources of each room, and its tests."""
FAULT_S = 20
"""A fault that keeps its tests busy for longer has been noticed."""
SWAPS: dict[type, type] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.And: ast.Or,
    ast.Or: ast.And,
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
}
Name = tuple[str, str, int]
"""File, qualified name and first line of a function."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One small fault in a function."""

    function: Name
    line: int
    what: str
    code: CodeType


def faulty(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """Yield the faults of a node alone, in words and as the node that takes its place."""
    made = copy.deepcopy(node)
    match made:
        case ast.Compare(ops=[op]) if type(op) in SWAPS:
            made.ops = [SWAPS[type(op)]()]
            yield f"{type(op).__name__} to {type(made.ops[0]).__name__}", made
        case ast.BoolOp(op=op) | ast.BinOp(op=op) if type(op) in SWAPS:
            made.op = SWAPS[type(op)]()
            yield f"{type(op).__name__} to {type(made.op).__name__}", made
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            yield "without not", operand
        case ast.Constant(value=bool(value)):
            yield f"{value} to {not value}", ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield f"{value} to {value + 1}", ast.Constant(value + 1)
        case ast.IfExp():
            made.body, made.orelse = made.orelse, made.body
            yield "if and else exchanged", made
        case ast.If():
            made.test = ast.UnaryOp(ast.Not(), made.test)
            yield "if to if not", made
        case ast.Return(value=ast.expr()):
            made.value = ast.Constant(None)
            yield "return of nothing", made
        case ast.Expr(value=ast.Call()):
            yield "without the call", ast.Pass()


class Put(ast.NodeTransformer):
    """Puts a node in the place of another."""

    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        """Return the new node for the old one."""
        return ast.copy_location(self.new, node) if node is self.old else self.generic_visit(node)


def codes_in(code: CodeType) -> Iterator[CodeType]:
    """Yield all code inside `code`."""
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            yield inner
            yield from codes_in(inner)


def faults_in(path: Path, functions: set[Name]) -> Iterator[Fault]:
    """Yield the faults of a file, each with the code of its outermost function."""
    source = path.read_text(encoding="utf-8")
    nodes = list(ast.walk(ast.parse(source)))
    for number, node in enumerate(nodes):
        for turn, (what, _) in enumerate(faulty(node)):
            tree = ast.parse(source)
            old = list(ast.walk(tree))[number]
            new = list(faulty(old))[turn][1]
            Put(old, new).generic_visit(tree)
            made = compile(ast.fix_missing_locations(tree), str(path), "exec")
            line = getattr(node, "lineno", 0)
            around = [
                code
                for code in codes_in(made)
                if (str(path), code.co_qualname, code.co_firstlineno) in functions
                and code.co_firstlineno <= line <= max(at or 0 for *_, at in code.co_lines())
            ]
            if around:
                code = min(around, key=lambda one: one.co_firstlineno)
                yield Fault((str(path), code.co_qualname, code.co_firstlineno), line, what, code)


class Mutation:
    """A pytest plugin that runs the tests once as they are and then with each fault."""

    def __init__(self, files: list[Path], every: int) -> None:
        self.files = {str(path) for path in files}
        self.every = every
        self.survivors: list[Fault] = []
        self.made = 0

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Take the place of pytest's own loop."""
        from hypothesis import settings  # noqa: PLC0415 - pytest wants to load it first

        settings.register_profile("mutation", max_examples=25, derandomize=True, deadline=None, database=None)
        settings.load_profile("mutation")
        entered, took = self._watch(session.items)
        if session.testsfailed:
            raise click.ClickException("the tests fail as they are")
        functions = self._functions()
        faults = [fault for path in sorted(self.files) for fault in faults_in(Path(path), set(functions))]
        for fault in faults[:: self.every]:
            self.made += 1
            items = sorted(entered[fault.function], key=took.__getitem__)
            if not self._noticed(functions[fault.function], fault, items):
                self.survivors.append(fault)
                print(f"survives: {fault.function[0]}:{fault.line} {fault.what}", flush=True)
        return True

    def _watch(
        self, items: list[pytest.Item]
    ) -> tuple[dict[Name, list[pytest.Item]], dict[pytest.Item, float]]:
        entered: dict[Name, list[pytest.Item]] = defaultdict(list)
        took: dict[pytest.Item, float] = {}
        seen: set[CodeType] = set()

        def look(frame: FrameType, what: str, _: object) -> None:
            if what == "call" and frame.f_code.co_filename in self.files:
                seen.add(frame.f_code)

        for item in items:
            seen.clear()
            begun = time.monotonic()
            threading.setprofile(look)
            sys.setprofile(look)
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
            sys.setprofile(None)
            threading.setprofile(None)
            took[item] = time.monotonic() - begun
            for code in seen:
                entered[code.co_filename, code.co_qualname, code.co_firstlineno].append(item)
        return entered, took

    def _functions(self) -> dict[Name, list[FunctionType]]:
        found: dict[Name, list[FunctionType]] = defaultdict(list)
        for thing in gc.get_objects():
            if isinstance(thing, FunctionType) and thing.__code__.co_filename in self.files:
                code = thing.__code__
                found[code.co_filename, code.co_qualname, code.co_firstlineno].append(thing)
        return found

    def _noticed(self, functions: list[FunctionType], fault: Fault, items: list[pytest.Item]) -> bool:
        child = os.fork()
        if child == 0:
            signal.alarm(FAULT_S)
            quiet = os.open(os.devnull, os.O_WRONLY)
            os.dup2(quiet, 1)
            os.dup2(quiet, 2)
            try:
                for function in functions:
                    function.__code__ = fault.code
                for item in items:
                    item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
                    if item.session.testsfailed:
                        os._exit(1)
            except BaseException:
                # Whatever goes wrong, the fault was noticed.
                os._exit(1)
            os._exit(0)
        return os.waitpid(child, 0)[1] != 0


@click.command()
@click.argument("room", type=click.Choice(list(ROOMS)))
@click.option("--every", default=1, help="Take only every so many-th fault: a smoke, or a sample.")
@click.option("--least", default=0.0, help="Fail if fewer of a hundred are noticed.")
def main(room: str, every: int, least: float) -> None:
    """Say how many faults in ROOM its tests notice, and which they don't."""
    source, tests = ROOMS[room]
    path = TOP / source
    files = sorted(path.glob("*.py")) if path.is_dir() else [path]
    plugin = Mutation(files, every)
    pytest.main(["-qq", "-s", "-p", "no:faulthandler", *(str(TOP / one) for one in tests)], [plugin])
    if not plugin.made:
        raise click.ClickException("no fault was tried")
    noticed = plugin.made - len(plugin.survivors)
    share = 100 * noticed / plugin.made
    print(f"{room}: {noticed} of {plugin.made} faults noticed ({share:.1f} %)")
    if share < least:
        sys.exit(1)


if __name__ == "__main__":
    main()
