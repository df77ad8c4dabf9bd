"""No trade number stands in the core: it is evidence, or a constant that names its source.

The rule, for the modules of `CORE`:

- a decimal number is 0, 0.5, 1 or 2, or a numerical guard of 1e-6 or less;
- any other stands in a module constant (upper case) that is a unit conversion (its name holds
  ``_PER_``) or whose comment, in its paragraph or as a string right below it, says where it is
  from: a year as citations have it, the word evidence, unit, definition or
  numerical, WGS 84 or tables.md;
- a whole number above 2 that is computed or compared with obeys the same, but units of time,
  angle and per cent are free, and so are sizes and shapes;
- `DESIGNED` names the arguments whose defaults the public contract fixes.
"""

import ast
import re
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "swarmwatch"
CORE = ("swarming", "placement", "colony", "weather", "hives.py")
FILES = sorted(
    file
    for name in CORE
    for file in ([PACKAGE / name] if name.endswith(".py") else (PACKAGE / name).rglob("*.py"))
)

FREE = {0, 0.5, 1, 2}
GUARD = 1e-6
# seconds, minutes, hours, week, months, days a year, half and whole circle, right angle, per
# cent, per mille, powers of ten
UNITS = {7, 10, 12, 24, 60, 90, 100, 180, 360, 365, 366, 1000, 3600, 10_000, 1_000_000}
DESIGNED = {"base_c", "time_limit_s", "spacing_m"}
SOURCE = re.compile(
    r"\b(1[89]|20)\d\d\b|evidence|numerical|definition|WGS 84|tables\.md|unit", re.IGNORECASE
)


def violations(text, name="module.py"):
    """List ``file:line: number`` for every bare trade number in the source `text`."""
    tree = ast.parse(text)
    lines = text.splitlines()
    free = {n for node in tree.body if _is_sourced(node, tree, lines) for n in ast.walk(node)}
    free |= _designed(tree)
    return [
        f"{name}:{n.lineno}: {n.value!r}"
        for n in ast.walk(tree)
        if n not in free
        and isinstance(n, ast.Constant)
        and (_is_bare_decimal(n) or (type(n.value) is int and n in _computed_with(tree)))
    ]


def _is_sourced(node, tree, lines):
    if not isinstance(node, ast.Assign | ast.AnnAssign):
        return False
    targets = node.targets if isinstance(node, ast.Assign) else [node.target]
    names = [t.id for target in targets for t in ast.walk(target) if isinstance(t, ast.Name)]
    if not names or not all(n == n.upper() for n in names):
        return False
    if all("_PER_" in n for n in names):
        return True
    return bool(SOURCE.search(_said_of(node, tree, lines)))


def _said_of(node, tree, lines):
    """Return the comments of the constant's paragraph and a string right below it."""
    first = node.lineno - 1
    while first > 0 and lines[first - 1].strip():
        first -= 1
    said = [line.partition("#")[2] for line in lines[first : node.end_lineno]]
    after = tree.body[tree.body.index(node) + 1 :][:1]
    if after and isinstance(after[0], ast.Expr) and isinstance(after[0].value, ast.Constant):
        said.append(str(after[0].value.value))
    return " ".join(said)


def _designed(tree):
    free = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            named = node.args
            pairs = [
                *zip(
                    named.args[len(named.args) - len(named.defaults) :], named.defaults, strict=True
                ),
                *zip(named.kwonlyargs, named.kw_defaults, strict=True),
            ]
            free |= {default for arg, default in pairs if arg.arg in DESIGNED}
    return free


def _is_bare_decimal(node):
    return type(node.value) is float and abs(node.value) > GUARD and node.value not in FREE


def _computed_with(tree):
    """Return the whole numbers that stand in a sum, product, power or comparison."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.BinOp):
            parts = [node.left, node.right]
        elif isinstance(node, ast.Compare):
            parts = [node.left, *node.comparators]
        else:
            continue
        if any(_is_size(p) for p in parts):
            continue
        found |= {
            p
            for p in parts
            if isinstance(p, ast.Constant)
            and type(p.value) is int
            and abs(p.value) > 2
            and p.value not in UNITS
        }
    return found


def _is_size(node):
    return any(
        (isinstance(n, ast.Attribute) and n.attr in ("ndim", "shape", "size"))
        or (isinstance(n, ast.Name) and n.id == "len")
        for n in ast.walk(node)
    )


def test_the_core_is_where_it_is_looked_for():
    assert {"colony", "hives.py"} <= {f.relative_to(PACKAGE).parts[0] for f in FILES}


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.relative_to(PACKAGE).as_posix())
def test_no_trade_number_stands_bare(file):
    name = file.relative_to(PACKAGE.parent).as_posix()
    found = violations(file.read_text(encoding="utf-8"), name)
    assert not found, "\n".join([*found, "Move it to evidence, or name its source beside it."])


@pytest.mark.parametrize(
    "text",
    [
        "x = y * 0.85",
        "def f(life_d=35.0): return life_d",
        "LIFE = 35.0",
        "# long enough\nLIFE = 35.0",
        "life_d = 35.0  # Winston 1987",
        "# Winston 1987\n\nLIFE = 35.0",
        "due = cells > 5",
        "age = day - 9",
        "hazards = {'early': 0.14}",
    ],
)
def test_a_bare_number_is_found(text):
    assert violations(text)


@pytest.mark.parametrize(
    "text",
    [
        "x = y * 0.5 + 2 - 1.0 / n + 0",
        "x = max(y, 1e-12)",
        "MM_PER_INCH = 25.4",
        "LIFE = 35.0  # Winston 1987",
        "# Winston 1987, equation 3\nLIFE = 35.0",
        "# Winston 1987, equations 3 and 4\nLIFE = 35.0\n_AGE = 21.5",
        '# Winston 1987\n_TABLE = {\n    "a": 35.0,\n    "b": 0.3,\n}',
        'LIFE = 35.0\n"""Winston 1987, page 57."""',
        "hours = days * 24",
        "wide = len(row) > 5",
        "def degree_days(*, base_c=10.0): return base_c",
        "first = row[7]",
        "shape = (4, 30)",
    ],
)
def test_a_sourced_or_harmless_number_is_not(text):
    assert violations(text) == []


def test_a_violation_says_file_and_line():
    assert violations("\n\nx = y * 0.85", "core.py") == ["core.py:3: 0.85"]
