"""A module that grows past a page of thought is split."""

import ast

LINES_MOST = 400
VAGUE = {"utils", "util", "helpers", "helper", "common", "misc"}


def test_no_module_is_longer_than_400_lines(sources):
    long = {
        name: lines
        for name, (path, _) in sources.items()
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > LINES_MOST
    }
    assert long == {}


def test_no_module_has_a_name_that_says_nothing(sources):
    assert [name for name in sources if VAGUE & set(name.split("."))] == []


def test_every_module_says_what_it_is_for(sources):
    assert [name for name, (_, tree) in sources.items() if not ast.get_docstring(tree)] == []
