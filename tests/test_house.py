"""The house: rooms that can be kept in mind, no circle of imports."""

import ast
from pathlib import Path

import grimp
import networkx

import blendkit


def test_no_imports_go_in_a_circle():
    graph = grimp.build_graph("blendkit", cache_dir=None)
    imports = networkx.DiGraph(
        (module, used) for module in graph.modules for used in graph.find_modules_directly_imported_by(module)
    )
    circles = [found for found in networkx.strongly_connected_components(imports) if len(found) > 1]
    assert circles == []


def test_no_room_has_more_than_18_modules():
    rooms = {folder: len(list(folder.glob("*.py"))) for folder in Path(blendkit.__file__).parent.glob("**")}
    assert sum(rooms.values()) > 100
    assert {folder.name: count for folder, count in rooms.items() if count > 18} == {}


def test_a_class_s_name_means_one_thing():
    named: dict[str, list[str]] = {}
    for path in Path(blendkit.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                named.setdefault(node.name, []).append(path.name)
    assert len(named) > 100
    assert {name: homes for name, homes in named.items() if len(homes) > 1} == {}


def test_no_command_has_more_than_ten_parameters():
    """Options that belong together are one record (`cli.options.spread`)."""
    counted = {
        node.name: len(node.args.args) + len(node.args.kwonlyargs)
        for path in (Path(blendkit.__file__).parent / "cli").glob("*.py")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef)
    }
    assert len(counted) > 50
    assert {name: count for name, count in counted.items() if count > 10} == {}


def test_every_number_with_a_name_says_what_it_is():
    """By a docstring below it, or below the constants that it stands with, or by a comment."""
    bare, count = [], 0
    for path in Path(blendkit.__file__).parent.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        lines, body = text.splitlines(), ast.parse(text).body
        for place, node in enumerate(body):
            if not isinstance(node, ast.Assign) or not _is_of_numbers(node.value):
                continue
            count += 1
            after = place + 1
            while after < len(body) and isinstance(body[after], ast.Assign) and _follows(body, after):
                after += 1
            told = after < len(body) and isinstance(body[after], ast.Expr) and _follows(body, after)
            if not told and "#" not in "".join(lines[node.lineno - 2 : node.end_lineno]):
                bare.append(f"{path.name}: {ast.unparse(node)[:60]}")
    assert count > 300
    assert bare == []


def _is_of_numbers(node: ast.expr) -> bool:
    try:
        value = ast.literal_eval(node)
    except ValueError:
        return False
    while isinstance(value, (tuple, list, dict)) and value:
        value = next(iter(value.values() if isinstance(value, dict) else value))
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _follows(body: list[ast.stmt], place: int) -> bool:
    """Whether a statement stands in the line below the one before."""
    return body[place].lineno == (body[place - 1].end_lineno or 0) + 1
