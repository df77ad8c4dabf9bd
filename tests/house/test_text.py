"""Text is UTF-8 by word, tolerances go by name, and nothing is left for later."""

import ast

import pytest

UNFINISHED = ("TO" + "DO", "FIX" + "ME", "XX" + "X")
# these take a name, not a path, or always deal in bytes
OTHER_OPENS = {"webbrowser", "os", "zipfile", "archive", "Image", "urllib"}
# methods of our own that are called open, and open no file
OWN_OPENS = {"tree", "self"}
CLOSE_ARGUMENTS = {"assert_allclose": 2, "allclose": 2, "isclose": 2, "approx": 1}


def without_encoding(tree):
    """Return the lines on which text is read or written in whatever the machine's encoding is."""
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and _opens_text(node)
        and not any(k.arg in {"encoding", None} for k in node.keywords)
    ]


def _opens_text(call):
    func = call.func
    name = func.id if isinstance(func, ast.Name) else getattr(func, "attr", "")
    if name == "read_text":
        return not call.args
    if name == "write_text":
        return len(call.args) < 2
    if name in {"run", "Popen"}:
        return any(k.arg in {"text", "universal_newlines"} for k in call.keywords)
    if name in {"NamedTemporaryFile", "TemporaryFile", "fdopen", "open"}:
        owner = getattr(func, "value", None)
        if name == "open" and isinstance(owner, ast.Name) and owner.id in OTHER_OPENS | OWN_OPENS:
            return False
        return not _binary(call, name=name, is_method=owner is not None)
    return False


def _binary(call, *, name, is_method):
    place = {"open": 0 if is_method else 1, "fdopen": 1}.get(name, 0)
    modes = [k.value for k in call.keywords if k.arg == "mode"] + call.args[place : place + 1]
    if not modes:
        return name.endswith("TemporaryFile")
    return isinstance(modes[0], ast.Constant) and "b" in str(modes[0].value)


def positional_tolerances(tree):
    """Return the lines on which a tolerance is given by place: the third means another thing."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            if len(node.args) > CLOSE_ARGUMENTS.get(name, len(node.args)):
                found.append(node.lineno)
    return found


@pytest.fixture(scope="module")
def test_trees(root):
    return {
        path.relative_to(root).as_posix(): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted((root / "tests").rglob("*.py"))
    }


def test_every_text_file_is_opened_with_its_encoding(sources):
    found = [f"{n}:{line}" for n, (_, tree) in sources.items() for line in without_encoding(tree)]
    assert found == []


def test_every_test_opens_text_with_its_encoding(test_trees):
    found = [f"{n}:{line}" for n, tree in test_trees.items() for line in without_encoding(tree)]
    assert found == []


@pytest.mark.parametrize(
    "line",
    [
        "open('a')",
        "open('a', 'w')",
        "path.open()",
        "path.open('w')",
        "path.read_text()",
        "path.write_text('a')",
        "os.fdopen(handle, 'w')",
        "tempfile.NamedTemporaryFile('w')",
        "subprocess.run(['a'], text=True)",
    ],
)
def test_the_scan_sees_text_without_encoding(line):
    assert without_encoding(ast.parse(line)) == [1]


@pytest.mark.parametrize(
    "line",
    [
        "open('a', 'rb')",
        "open('a', encoding='utf-8')",
        "path.open('wb')",
        "path.read_text(encoding='utf-8')",
        "path.read_text('utf-8')",
        "path.write_text('a', encoding='utf-8')",
        "path.read_bytes()",
        "tempfile.NamedTemporaryFile()",
        "webbrowser.open(address)",
    ],
)
def test_the_scan_lets_bytes_and_named_encodings_pass(line):
    assert without_encoding(ast.parse(line)) == []


def test_every_tolerance_in_the_tests_goes_by_name(test_trees):
    found = [f"{n}:{k}" for n, tree in test_trees.items() for k in positional_tolerances(tree)]
    assert found == []


@pytest.mark.parametrize("line", ["np.testing.assert_allclose(a, b, 4)", "pytest.approx(a, 1e-3)"])
def test_the_scan_sees_a_tolerance_by_place(line):
    assert positional_tolerances(ast.parse(line)) == [1]


def test_nothing_is_left_for_later(root, sources):
    paths = [p for p, _ in sources.values()]
    paths += [p for p in (root / "tests").rglob("*.py") if p.name != "test_text.py"]
    paths += [*root.glob("*.md"), *(root / "swarmwatch").rglob("*.toml")]
    found = [
        f"{path.relative_to(root).as_posix()}: {word}"
        for path in paths
        for word in UNFINISHED
        if word in path.read_text(encoding="utf-8")
    ]
    assert found == []
