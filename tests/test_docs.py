"""The documents are true: README's commands and code run, the API page is fresh, docstrings' examples run."""

import doctest
import importlib
import importlib.util
import pkgutil
import re
import shlex
import shutil

import pytest

import blendkit
from blendkit.cli.app import COMMANDS


def blocks(text, language):
    return re.findall(rf"^```{language}\n(.*?)^```", text, flags=re.S | re.M)


def commands_of(text):
    """Every line of a console block that begins with ``$ blendkit``."""
    return [
        line[2:].strip()
        for block in blocks(text, "console")
        for line in block.splitlines()
        if line.startswith("$ blendkit ")
    ]


@pytest.fixture
def workshop(tmp_path, monkeypatch, root):
    for folder in ("palettes", "examples"):
        (tmp_path / folder).symlink_to(root / folder)
    shutil.copy(root / "palettes" / "hedgehog-lane.csv", tmp_path / "my-drawer.csv")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("BLENDKIT_PALETTE", raising=False)
    return tmp_path


def test_every_blendkit_command_of_the_readme_runs_in_its_order(root, workshop, run):
    """A later command may use what an earlier one wrote."""
    commands = commands_of((root / "README.md").read_text(encoding="utf-8"))
    assert len(commands) >= 8
    for command in commands:
        if command.startswith("blendkit desk"):
            continue  # serves until it is stopped; test_desk_server.py and tests/browser open it
        code, _, err = run(*shlex.split(command, comments=True)[1:])
        assert code == 0, f"{command}: {err}"


def test_every_python_block_of_the_readme_runs(root, workshop):
    examples = blocks((root / "README.md").read_text(encoding="utf-8"), "python")
    assert examples
    for code in examples:
        exec(compile(code, "README.md", "exec"), {})


def test_the_readme_tells_of_every_command(root):
    text = (root / "README.md").read_text(encoding="utf-8")
    missing = [name for name in COMMANDS if f"`{name}`" not in text and f"blendkit {name}" not in text]
    assert missing == []


def test_every_file_that_the_documents_name_is_there(root):
    for document in ("README.md", "DEVELOPERS.md"):
        text = (root / document).read_text(encoding="utf-8")
        for target in re.findall(r"\]\(([^)#]+)\)", text):
            assert (root / target).exists(), f"{document} names {target}"


def test_every_file_that_the_house_s_pages_mention_is_there(root):
    """By its path, or the end of it: `cli/app.py` stands for `blendkit/cli/app.py`."""
    there = [f"/{path.relative_to(root).as_posix()}" for path in root.rglob("*") if path.is_file()]
    for document in ("DEVELOPERS.md", "tests/derive/README.md", "tests/benchmarks/README.md"):
        text = (root / document).read_text(encoding="utf-8")
        named = set(re.findall(r"(?<![\w>*/.])[\w][\w./-]*\.(?:py|md|csv|toml|js|css|json|html)\b", text))
        assert named
        missing = sorted(name for name in named if not any(path.endswith(f"/{name}") for path in there))
        assert missing == [], document


def _load(path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_api_page_is_what_the_docstrings_say(root):
    """Run examples/write_api_page.py when this fails."""
    writer = _load(root / "examples" / "write_api_page.py")
    assert writer.PAGE.read_text(encoding="utf-8") == writer.api_page()


def test_every_public_name_opens_and_is_documented():
    for name in blendkit.__all__:
        value = getattr(blendkit, name)
        if name != "__version__":
            assert value.__doc__, name
    assert set(blendkit.__all__) == set(dir(blendkit))
    with pytest.raises(AttributeError, match="No blendkit attribute nonsense"):
        _ = blendkit.nonsense


def modules():
    return [
        info.name
        for info in pkgutil.walk_packages(blendkit.__path__, "blendkit.")
        if not info.name.endswith("__main__")
    ]


@pytest.mark.parametrize("name", modules())
def test_the_examples_in_the_docstrings_run(name):
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0


def test_some_docstrings_have_examples():
    """Keeps the check above from passing because nothing is tried."""
    tried = sum(doctest.testmod(importlib.import_module(name)).attempted for name in modules())
    assert tried >= 5
