"""The middle holds no number of the trade: those live in the evidence, with their source."""

import ast

import pytest

CORE = {"swarming", "placement", "colony", "weather", "hives"}
# plain arithmetic, and conversions of units: per cent, thousands, hours, minutes, seconds, degrees
PLAIN = {0.0, 0.5, 1.0, 2.0}
CONVERSIONS = {0.01, 10.0, 24.0, 60.0, 90.0, 100.0, 180.0, 360.0, 1e3, 3600.0, 1e4, 1e6}
# below this a literal guards a division or a logarithm; it measures nothing
GUARD = 1e-5
# how long the machine may think is no number of the trade
OF_THE_MACHINE = {"time_limit_s"}


def bare_numbers(tree):
    """Return 'line: number' of float literals outside the constants of a module."""
    constants = {
        id(inside)
        for node in tree.body
        if isinstance(node, ast.Assign | ast.AnnAssign) and _is_constant(node)
        for inside in ast.walk(node)
    }
    patience = {
        id(default)
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
        for argument, default in zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True)
        if argument.arg in OF_THE_MACHINE
    }
    return [
        f"{node.lineno}: {node.value}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, float)
        and id(node) not in constants
        and abs(node.value) not in PLAIN | CONVERSIONS
        and not abs(node.value) < GUARD
        and id(node) not in patience
    ]


def _is_constant(node):
    targets = node.targets if isinstance(node, ast.Assign) else [node.target]
    names = [n for t in targets for n in (t.elts if isinstance(t, ast.Tuple) else [t])]
    return all(isinstance(n, ast.Name) and n.id.isupper() for n in names)


def test_the_middle_holds_no_bare_number(sources):
    found = [
        f"{name}:{fault}"
        for name, (_, tree) in sources.items()
        if name.split(".")[0] == "swarmwatch" and CORE & set(name.split(".")[1:2])
        for fault in bare_numbers(tree)
    ]
    assert found == []


def unexplained(text):
    """Return 'line: number' of a module's float constants with no comment on or just above."""
    lines = text.splitlines()
    return [
        f"{node.lineno}: {number.value}"
        for node in ast.parse(text).body
        if isinstance(node, ast.Assign | ast.AnnAssign) and _is_constant(node)
        for number in ast.walk(node)
        if isinstance(number, ast.Constant)
        and isinstance(number.value, float)
        and abs(number.value) not in PLAIN | CONVERSIONS
        and not abs(number.value) < GUARD
        and not any("#" in line for line in lines[max(0, node.lineno - 4) : node.end_lineno])
    ]


def test_every_constant_of_the_middle_says_where_it_is_from(sources):
    found = [
        f"{name}:{fault}"
        for name, (path, _) in sources.items()
        if name.split(".")[0] == "swarmwatch" and CORE & set(name.split(".")[1:2])
        for fault in unexplained(path.read_text(encoding="utf-8"))
    ]
    assert found == []


def test_the_scan_sees_a_constant_without_a_word():
    assert unexplained("import math\n\n\n_SLOPE = 0.1396\n") == ["4: 0.1396"]


def test_the_scan_lets_a_constant_with_its_source_pass():
    assert unexplained("# Jones 1975, eq. 3\n_SLOPE = 0.1396\n") == []


@pytest.mark.parametrize("line", ["x = 0.87", "def f(rate=0.3):\n    return rate", "y = [1.25]"])
def test_the_scan_sees_a_bare_number(line):
    assert len(bare_numbers(ast.parse(line))) == 1


@pytest.mark.parametrize(
    "line",
    ["x = 0.5 * y", "_SLOPE = 0.1396", "_LOW, _HIGH = 0.1, 0.9", "x = 100.0 * y", "x = 1e-9"],
)
def test_the_scan_lets_arithmetic_and_named_constants_pass(line):
    assert bare_numbers(ast.parse(line)) == []
