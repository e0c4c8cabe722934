"""Which small faults in a room would no test of it notice: `python -m tests.mutation lesson [--sample N]`.

The tests of the room are run once, which tells the functions that each of them enters, and once more in a
forked process, where they must hold as well. Then each fault, one at a time, is put into its function in a
forked process, and only tests that enter the function are run, the keenest first, until one fails. Nothing
on the disk is changed. A fault with which the tests never end is noticed by the time of the processor that
they take, or by their standing still, never by the clock on the wall: a busy machine finds no faults.

Faults are made in the bodies of functions only. None is made that changes no behaviour, or only words.
"""

import ast
import copy
import gc
import os
import random
import resource
import signal
import sys
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import CodeType, FrameType, FunctionType

import click
import psutil
import pytest

TOP = Path(__file__).parents[1]
ROOMS = {
    "lesson": ("companion/lesson", "tests/lesson"),
    "log": ("companion/log", "tests/log"),
    "recording": ("companion/recording", "tests/recording"),
    "gesture": ("companion/pressing/gesture.py", "tests/pressing/test_gesture.py"),
    "guard": ("companion/pages/guard.py", "tests/pages/test_guard.py"),
}
"""The sources of each room, and its tests."""
TIMES_AS_LONG = 5
"""A fault that keeps its tests busy for so many times as long as they are without it has been noticed."""
STILL_S = 20
"""So has one with which nothing at all is done for so long."""
MOST_BYTES = 4_000_000_000
OTHER = 255
"""The exit status of a process in which none of the first tests has noticed the fault, but something has."""
SERVED = {"page", "server"}
"""Fixtures that start threads."""
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
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
}
TURNED = (ast.Eq, ast.NotEq, ast.Is, ast.IsNot, ast.In, ast.NotIn)
"""What SWAPS turns into its contrary: an `if` of it needs no fault of its own."""
Name = tuple[str, str, int]
"""File, qualified name and first line of a function."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One small fault in a function, the outermost around it."""

    function: Name
    line: int
    what: str
    code: CodeType


def faulty(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:  # noqa: PLR0912 - one case a kind of node
    """Yield the faults of a node alone, in words and as the node that takes its place."""
    made = copy.deepcopy(node)
    match made:
        case ast.Compare(ops=ops):
            for place, op in enumerate(ops):
                if type(op) in SWAPS:
                    swapped = SWAPS[type(op)]()
                    one = copy.deepcopy(made)
                    one.ops[place] = swapped
                    yield f"{type(op).__name__} to {type(swapped).__name__}", one
        case ast.BoolOp(op=op) | ast.BinOp(op=op) | ast.AugAssign(op=op) if type(op) in SWAPS:
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
        case ast.If(test=ast.Compare(ops=[op])) if type(op) in TURNED:
            return
        case ast.If() | ast.While():
            made.test = ast.UnaryOp(ast.Not(), made.test)
            yield "if to if not", made
        case ast.comprehension(ifs=[_, *_]):
            made.ifs = []
            yield "without the if", made
        case ast.match_case():
            made.guard = ast.Constant(False)
            yield "without the case", made
        case ast.Return(value=ast.expr() as value) if not isinstance(value, ast.Constant) or value.value:
            made.value = ast.Constant(None)
            yield "return of nothing", made
        case ast.Expr(value=ast.Call(func=ast.Attribute(attr="debug" | "info" | "warning" | "error"))):
            return
        case ast.Expr(value=ast.Call()):
            yield "without the call", ast.Pass()
        case ast.Assign(targets=[ast.Attribute() | ast.Subscript()]) | ast.Delete():
            yield "without the statement", ast.Pass()
        case ast.Break() | ast.Continue():
            yield "without the jump", ast.Pass()


class Put(ast.NodeTransformer):
    """Puts a node in the place of another."""

    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        """Return the new node for the old one."""
        return ast.copy_location(self.new, node) if node is self.old else self.generic_visit(node)


def outermost(code: CodeType, line: int, functions: dict[Name, list[FunctionType]]) -> CodeType | None:
    """Return the code of the outermost of `functions` that `line` stands in."""
    for inner in code.co_consts:
        if isinstance(inner, CodeType) and inner.co_firstlineno <= line <= last_line(inner):
            if (inner.co_filename, inner.co_qualname, inner.co_firstlineno) in functions:
                return inner
            if (found := outermost(inner, line, functions)) is not None:
                return found
    return None


def last_line(code: CodeType) -> int:
    """Return the last line of a code and of all code inside it."""
    own = max(line or 0 for *_, line in code.co_lines())
    return max([own, *(last_line(inner) for inner in code.co_consts if isinstance(inner, CodeType))])


def faults_in(path: str, source: str, functions: dict[Name, list[FunctionType]]) -> Iterator[tuple[int, int]]:
    """Yield the faults of a file: the number of a node in its tree, and the place among the node's faults."""
    lines = {name[2] for name in functions if name[0] == path}
    tree = ast.parse(source)
    # Who says `strict=True` says what is true anyway.
    spared = {id(one.value) for one in ast.walk(tree) if isinstance(one, ast.keyword) and one.arg == "strict"}
    bodies = {
        id(node)
        for function in ast.walk(tree)
        if isinstance(function, (ast.FunctionDef, ast.AsyncFunctionDef))
        and min([function.lineno, *(one.lineno for one in function.decorator_list)]) in lines
        for statement in function.body
        for node in ast.walk(statement)
    }
    for number, node in enumerate(ast.walk(tree)):
        if id(node) in bodies - spared:
            yield from ((number, turn) for turn, _ in enumerate(faulty(node)))


def make(
    path: str, source: str, number: int, turn: int, functions: dict[Name, list[FunctionType]]
) -> Fault | None:
    """Return a fault with its code; None if the code is what it was."""
    tree = ast.parse(source)
    old = list(ast.walk(tree))[number]
    what, new = list(faulty(old))[turn]
    line: int = old.pattern.lineno if isinstance(old, ast.match_case) else getattr(old, "lineno", 0)
    if isinstance(old, ast.comprehension):
        line = old.target.lineno
    Put(old, new).generic_visit(tree)
    code = outermost(compile(ast.fix_missing_locations(tree), path, "exec"), line, functions)
    if code is None:
        return None
    name = (path, code.co_qualname, code.co_firstlineno)
    as_it_is = functions[name][0].__code__
    # Python puts no code with other free variables into a function.
    if code == as_it_is or code.co_freevars != as_it_is.co_freevars:
        return None
    return Fault(name, line, what, code)


class Mutation:
    """A pytest plugin that runs the tests once as they are and then with each fault."""

    def __init__(self, files: list[Path], sample: int | None, seed: int) -> None:
        self.sources = {str(path): path.read_text(encoding="utf-8") for path in files}
        self.sample = sample
        self.seed = seed
        self.keen: dict[str, Counter[pytest.Item]] = defaultdict(Counter)
        """How many faults of a file each test has noticed."""
        self.survivors: list[Fault] = []
        self.made = 0

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Leave out what needs a browser, or pages that are served: their threads do not survive a fork."""
        items[:] = [item for item in items if not SERVED & {*getattr(item, "fixturenames", ())}]

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Take the place of pytest's own loop."""
        from hypothesis import Phase, settings  # noqa: PLC0415 - pytest wants to load it first

        settings.register_profile(
            "mutation",
            max_examples=25,
            derandomize=True,
            deadline=None,
            database=None,
            phases=(Phase.explicit, Phase.generate),
        )
        settings.load_profile("mutation")
        entered, took_s = self._watch(session.items)
        if session.testsfailed:
            pytest.exit("the tests fail as they are")
        if self._noticed(None, [], session.items, took_s, Counter()):
            pytest.exit("the tests fail in a forked process as they are")
        functions = self._functions()
        # So that a forked process need not copy what it only looks at.
        gc.freeze()
        places = [
            (path, source, *place)
            for path, source in self.sources.items()
            for place in faults_in(path, source, functions)
        ]
        if self.sample is not None:
            random.Random(self.seed).shuffle(places)
        for place in places:
            fault = make(*place, functions)
            if fault is None:
                continue
            if self.made == self.sample:
                break
            self.made += 1
            keen = self.keen[path := fault.function[0]]
            items = sorted(entered[fault.function], key=lambda item: (-keen[item], took_s[item]))
            if not self._noticed(fault.code, functions[fault.function], items, took_s, keen):
                self.survivors.append(fault)
                where = Path(path).relative_to(TOP)
                print(f"{self.made}: {where}:{fault.line} {fault.what} ({len(items)} tests)", flush=True)
        return True

    def _watch(
        self, items: list[pytest.Item]
    ) -> tuple[dict[Name, list[pytest.Item]], dict[pytest.Item, float]]:
        """Return the tests that enter each function, and how long each test keeps the processor busy."""
        entered: dict[Name, list[pytest.Item]] = defaultdict(list)
        took_s: dict[pytest.Item, float] = {}
        seen: set[CodeType] = set()

        def look(frame: FrameType, what: str, _: object) -> None:
            if what == "call" and frame.f_code.co_filename in self.sources:
                seen.add(frame.f_code)

        for item in items:
            seen.clear()
            begun_s = time.process_time()
            threading.setprofile(look)
            sys.setprofile(look)
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
            sys.setprofile(None)
            threading.setprofile(None)
            took_s[item] = time.process_time() - begun_s
            for code in seen:
                entered[code.co_filename, code.co_qualname, code.co_firstlineno].append(item)
        return entered, took_s

    def _functions(self) -> dict[Name, list[FunctionType]]:
        found: dict[Name, list[FunctionType]] = defaultdict(list)
        for thing in gc.get_objects():
            if isinstance(thing, FunctionType) and thing.__code__.co_filename in self.sources:
                code = thing.__code__
                found[code.co_filename, code.co_qualname, code.co_firstlineno].append(thing)
        return found

    def _noticed(
        self,
        code: CodeType | None,
        functions: list[FunctionType],
        items: list[pytest.Item],
        took_s: dict[pytest.Item, float],
        keen: Counter[pytest.Item],
    ) -> bool:
        """Whether one of the tests fails when the functions have the code; None: as they are."""
        most_s = 5 + int(TIMES_AS_LONG * sum(took_s[item] for item in items))
        child = os.fork()
        if child == 0:
            resource.setrlimit(resource.RLIMIT_CPU, (most_s, most_s))
            resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
            quiet = os.open(os.devnull, os.O_WRONLY)
            os.dup2(quiet, 1)
            os.dup2(quiet, 2)
            try:
                for function in functions:
                    function.__code__ = code or function.__code__
                forget_kept(functions)
                for number, item in enumerate(items, start=1):
                    item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
                    if item.session.testsfailed:
                        os._exit(min(number, OTHER))
            except BaseException:
                # Whatever goes wrong, the fault was noticed.
                os._exit(OTHER)
            os._exit(0)
        noticed_by = os.waitstatus_to_exitcode(ending(child))
        if 0 < noticed_by < OTHER:
            keen[items[noticed_by - 1]] += 1
        return noticed_by != 0


def forget_kept(functions: list[FunctionType]) -> None:
    """Let what the tests share ask those of `functions` anew whose answers it keeps."""
    gc.unfreeze()
    things = gc.get_objects()
    for kept in [thing for thing in things if type(thing) is cached_property and thing.func in functions]:
        for thing in things:
            if vars(type(thing)).get(kept.attrname) is kept:
                vars(thing).pop(kept.attrname, None)


def ending(child: int) -> int:
    """Return how a process ended. One that does nothing at all any more is ended."""
    process = psutil.Process(child)
    busy_s, moved, pause_s = 0.0, time.monotonic(), 0.005
    while True:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return status
        time.sleep(pause_s)
        pause_s = min(2 * pause_s, 0.2)
        times = process.cpu_times()
        if times.user + times.system != busy_s:
            busy_s, moved = times.user + times.system, time.monotonic()
        elif time.monotonic() - moved > STILL_S:
            process.send_signal(signal.SIGKILL)


@click.command()
@click.argument("room", type=click.Choice(list(ROOMS)))
@click.option("--only", default="*", help="The modules in which faults are put, as in `mark*`.")
@click.option("--sample", type=int, help="Take only so many faults, drawn at random.")
@click.option("--seed", default=1, show_default=True, help="What the sample is drawn by.")
@click.option("--least", default=0.0, help="Fail if fewer of a hundred are noticed.")
def main(room: str, only: str, sample: int | None, seed: int, least: float) -> None:
    """Say how many faults in ROOM its tests notice, and which they don't."""
    source, tests = ROOMS[room]
    path = TOP / source
    files = sorted(path.glob(f"{only}.py")) if path.is_dir() else [path]
    plugin = Mutation(files, sample, seed)
    options = ["-qq", "-s", "--tb=native", "-p", "no:faulthandler", "-o", "tmp_path_retention_policy=failed"]
    pytest.main([*options, str(TOP / tests)], [plugin])
    if not plugin.made:
        raise click.ClickException("no fault was tried")
    noticed = plugin.made - len(plugin.survivors)
    share = 100 * noticed / plugin.made
    print(f"{room}: {noticed} of {plugin.made} faults noticed ({share:.1f} %)")
    if share < least:
        sys.exit(1)


if __name__ == "__main__":
    main()
