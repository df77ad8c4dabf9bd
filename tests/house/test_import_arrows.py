"""The arrows of the house point one way, and its middle touches no world outside its arguments."""

import ast

import pytest

ANYONE_MAY_USE = {"errors", "tables", "wording"}
# each part of swarmwatch and the lowest-numbered floor it stands on; arrows never point up
FLOORS = {
    "errors": 0,
    "tables": 0,
    "wording": 0,
    "evening": 0,
    "evidence": 1,
    "colony": 2,
    "weather": 2,
    "hives": 2,
    "swarming": 3,
    "placement": 3,
    "alerts": 4,
    "mapping": 4,
    "reports": 4,
    "records": 4,
    "sheets": 4,
    "page": 5,
    "cli": 6,
}
CORE = {"swarming", "placement", "colony", "weather", "hives"}
WORLD = {
    "asyncio",
    "builtins",
    "ctypes",
    "data_sources",
    "demo_data",
    "fileinput",
    "folium",
    "getpass",
    "glob",
    "http",
    "importlib",
    "io",
    "logging",
    "multiprocessing",
    "os",
    "pathlib",
    "platform",
    "platformdirs",
    "random",
    "requests",
    "requests_cache",
    "shutil",
    "socket",
    "sqlalchemy",
    "sqlite3",
    "subprocess",
    "sys",
    "tempfile",
    "threading",
    "typer",
    "urllib",
    "urllib3",
    "webbrowser",
}
# a stopwatch tells how long, not when
STOPWATCHES = {"perf_counter", "monotonic", "process_time"}
CALLS = {"print", "open", "input", "exec", "eval", "breakpoint"}
METHODS = {
    "fromtimestamp",
    "getenv",
    "now",
    "read_bytes",
    "read_csv",
    "read_excel",
    "read_file",
    "read_parquet",
    "read_sql",
    "read_text",
    "to_csv",
    "to_excel",
    "to_file",
    "to_parquet",
    "to_sql",
    "today",
    "utcnow",
    "write_bytes",
    "write_text",
}
UNSEEDED = {"rand", "randn", "randint", "random_sample", "choice", "shuffle", "seed", "permutation"}


def imported(tree, homes=()):
    """Yield the dotted name of everything that a module imports, at its top or inside."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module == "swarmwatch":
            yield from (dict(homes).get(a.name, f"swarmwatch.{a.name}") for a in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""


def part(module):
    """Return the part of swarmwatch that a dotted name lies in, "" if it lies outside."""
    pieces = module.split(".")
    return pieces[1] if pieces[0] == "swarmwatch" and len(pieces) > 1 else ""


def touches_the_world(tree):
    """Return what a module does that its arguments did not bring, as 'line: what'."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = {n.split(".")[0] for n in imported(ast.Module([node], []))}
            found += [f"{node.lineno}: imports {n}" for n in sorted(names & WORLD)]
            if isinstance(node, ast.ImportFrom) and node.module == "time":
                taken = {alias.name for alias in node.names} - STOPWATCHES
                found += [f"{node.lineno}: imports time.{n}" for n in sorted(taken)]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            if node.func.id in CALLS:
                found.append(f"{node.lineno}: calls {node.func.id}")
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            found += [f"{node.lineno}: {what}" for what in _method_touches(node)]
    return found


def _method_touches(call):
    name, owner = call.func.attr, call.func.value
    if isinstance(owner, ast.Name) and owner.id == "time" and name not in STOPWATCHES:
        yield f"calls time.{name}()"
    if name in METHODS:
        yield f"calls .{name}()"
    if name in UNSEEDED and isinstance(owner, ast.Attribute) and owner.attr == "random":
        yield f"draws from the global generator, random.{name}()"
    if name == "default_rng" and not call.args and not call.keywords:
        yield "draws from an unseeded generator"


def test_every_part_of_the_product_has_a_floor(sources):
    parts = {part(name) for name in sources} - {""}
    assert parts <= set(FLOORS)


def test_no_module_imports_from_a_floor_above_its_own(sources):
    from swarmwatch import _HOMES

    up = [
        f"{name} imports {target}"
        for name, (_, tree) in sources.items()
        if part(name)
        for target in imported(tree, _HOMES.items())
        if part(target) in FLOORS and FLOORS[part(target)] > FLOORS[part(name)]
    ]
    assert up == []


def test_the_ground_floor_stands_on_nothing(sources):
    leaning = [
        f"{name} imports {target}"
        for name, (_, tree) in sources.items()
        if part(name) in ANYONE_MAY_USE
        for target in imported(tree)
        if part(target) and part(target) not in ANYONE_MAY_USE
    ]
    assert leaning == []


def test_data_sources_knows_nothing_of_swarmwatch(sources):
    knows = [
        f"{name} imports {target}"
        for name, (_, tree) in sources.items()
        if name.split(".")[0] == "data_sources"
        for target in imported(tree)
        if target.split(".")[0] in {"swarmwatch", "demo_data"}
    ]
    assert knows == []


def test_only_the_shell_fetches_data(sources):
    fetching = {
        part(name)
        for name, (_, tree) in sources.items()
        if part(name)
        for target in imported(tree)
        if target.split(".")[0] == "data_sources"
    }
    assert fetching <= {"cli"}


def test_the_middle_reads_no_file_clock_or_network_and_prints_nothing(sources):
    faults = [
        f"{name} {fault}"
        for name, (_, tree) in sources.items()
        if part(name) in CORE
        for fault in touches_the_world(tree)
    ]
    assert faults == []


def test_no_import_is_relative(sources):
    relative = [
        f"{name}:{node.lineno}"
        for name, (_, tree) in sources.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.level
    ]
    assert relative == []


@pytest.mark.parametrize(
    "line",
    [
        "import os.path",
        "from pathlib import Path",
        "def f():\n    import requests",
        "x = time.time()",
        "from time import time",
        "print(1)",
        "x = open('a')",
        "x = datetime.now(UTC)",
        "x = date.today()",
        "x = frame.to_csv('a')",
        "x = np.random.rand(3)",
        "x = np.random.default_rng()",
    ],
)
def test_the_scan_sees_a_planted_touch_of_the_world(line):
    assert touches_the_world(ast.parse(line)) != []


@pytest.mark.parametrize(
    "line",
    [
        "from time import perf_counter",
        "x = time.monotonic()",
        "rng = np.random.default_rng(1)",
        "x = rng.choice(3)",
    ],
)
def test_the_scan_lets_a_stopwatch_and_a_seeded_generator_pass(line):
    assert touches_the_world(ast.parse(line)) == []
