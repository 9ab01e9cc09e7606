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
