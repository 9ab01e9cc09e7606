"""The table of calls: what is accepted, what is refused, and its description."""

import json
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from simulate.desk import DeskClient

from blendkit.desk.app import CALLS, MAX_QUESTION_BYTES
from blendkit.desk.calls import CallError, Place, ask, fields_of, parse_question, question
from blendkit.palette import demo_palette_path


@pytest.fixture(scope="module")
def client():
    opened = DeskClient(demo_palette_path())
    yield opened
    opened.close()


@question
class Shelf:
    """A question with a field of every kind."""

    name: str = ask("a name", required=True, longest=5)
    count: int = ask("how many", default=3, low=1, high=9)
    share: float | None = ask("how much", low=0.0, high=1.0)
    large: bool = ask("whether", default=False)
    names: tuple[str, ...] = ask("some names", default=())
    at: Place | None = ask("a place")
    line: tuple[Place, ...] = ask("some places", default=())
    kind: Literal["a", "b"] = ask("which", default="a")


def test_defaults_are_filled_in():
    """What isn't sent has its default."""
    assert parse_question(Shelf, {"name": "x"}) == Shelf(
        name="x", count=3, share=None, large=False, names=(), at=None, line=(), kind="a"
    )


def test_what_is_sent_has_the_type_that_the_question_says():
    """Whole numbers become numbers, lists become tuples."""
    parsed = parse_question(Shelf, {"name": "x", "share": 1, "at": [0, 1], "line": [[0, 0.5], [1, 1]]})
    assert (parsed.share, parsed.at, parsed.line) == (1.0, (0, 1), ((0.0, 0.5), (1.0, 1.0)))
    assert isinstance(parsed.share, float)


def test_texts_of_an_address_become_what_they_stand_for():
    """In an address all is text."""
    sent = {"name": ["x"], "count": ["4"], "share": ["0.5"], "large": ["true"], "names": ["p", "q", ""]}
    parsed = parse_question(Shelf, sent, as_text=True)
    assert (parsed.count, parsed.share, parsed.large, parsed.names) == (4, 0.5, True, ("p", "q"))


@pytest.mark.parametrize(
    ("sent", "where"),
    [
        ({}, "name"),
        ({"name": "longer"}, "name"),
        ({"name": "a\x00"}, "name"),
        ({"name": 3}, "name"),
        ({"name": "x", "count": 0}, "count"),
        ({"name": "x", "count": 1.5}, "count"),
        ({"name": "x", "count": True}, "count"),
        ({"name": "x", "share": 2}, "share"),
        ({"name": "x", "share": float("nan")}, "share"),
        ({"name": "x", "large": "true"}, "large"),
        ({"name": "x", "names": "p"}, "names"),
        ({"name": "x", "names": ["p"] * 2001}, "names"),
        ({"name": "x", "at": [0.1]}, "at"),
        ({"name": "x", "at": [0.1, 1.2]}, "at"),
        ({"name": "x", "line": []}, "line"),
        ({"name": "x", "line": [[0.1, 0.2], [0.3]]}, "line, entry 2"),
        ({"name": "x", "kind": "c"}, "kind"),
        ({"name": "x", "other": 1}, "'other'"),
    ],
)
def test_a_wrong_field_is_named(sent, where):
    """The fault names the field and what it accepts."""
    with pytest.raises(CallError) as caught:
        parse_question(Shelf, sent)
    assert [problem.where for problem in caught.value.problems] == [where]
    assert caught.value.problems[0].accepted


def test_all_wrong_fields_are_named_together():
    """One answer tells everything that is to be mended."""
    with pytest.raises(CallError) as caught:
        parse_question(Shelf, {"count": -1, "share": 9, "kind": "z"})
    assert {problem.where for problem in caught.value.problems} == {"name", "count", "share", "kind"}


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=9),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=2),
    max_leaves=6,
)


@given(
    st.dictionaries(
        st.sampled_from([field.name for field in fields_of(Shelf)]) | st.text(max_size=8),
        ANYTHING,
        max_size=5,
    )
)
def test_any_question_is_parsed_or_refused_in_words(sent):
    """No question, however odd, is a fault of ours."""
    try:
        parsed = parse_question(Shelf, sent)
    except CallError as refusal:
        faults = refusal.problems
    else:
        faults = ()
        assert isinstance(parsed, Shelf)
    assert all(fault.accepted for fault in faults)


# ---------------------------------------------------------------- over the wire


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b"", "application/json", 422),
        (b"[]", "application/json", 422),
        (b"{", "application/json", 422),
        (b"[" * 100_000, "application/json", 422),
        (b'{"job": NaN}', "application/json", 422),
        (b'{"job": "x"}', "text/plain", 422),
        (b"\xff\xfe", "application/json", 422),
        (b'{"job": "' + b"x" * MAX_QUESTION_BYTES + b'"}', "application/json", 413),
    ],
)
def test_a_malformed_question_is_refused(client, body, kind, status):
    """Each is answered with a sentence and the right status, none with a fault of ours."""
    answer = client.ask("POST", "/api/job/stop", content=body, headers={"content-type": kind})
    assert answer.status_code == status
    assert answer.json()["message"]


def test_an_unknown_name_gets_the_nearest_names(client):
    """A mistake of the person comes back as the command line would say it."""
    answer = client.ask("GET", "/api/pair", params={"colour": "rosehip dawnn"})
    assert answer.status_code == 422
    assert "rosehip dawn" in json.dumps(answer.json())


def test_a_fault_of_our_own_says_so_and_hides_its_inside(client, monkeypatch):
    """What isn't foreseen is answered with 500, without a trace of the code."""
    monkeypatch.setattr(client.desk, "palette", lambda: 1 / 0)
    answer = client.ask("GET", "/api/item", params={"name": "x"})
    assert answer.status_code == 500
    assert "fault of its own" in answer.json()["message"]
    assert "ZeroDivision" not in answer.text


def test_every_call_is_in_the_openapi_description(client):
    """The description is made from the table that the server runs on, and leaves nothing out."""
    document = client.ask("GET", "/api/openapi.json").json()
    assert document["openapi"].startswith("3.1")
    described = {(path, method.upper()) for path, methods in document["paths"].items() for method in methods}
    assert described == {(f"/api{call.path}", call.method) for call in CALLS}
    ids = [
        operation["operationId"] for methods in document["paths"].values() for operation in methods.values()
    ]
    assert len(ids) == len(set(ids))
    for call in CALLS:
        operation = document["paths"][f"/api{call.path}"][call.method.lower()]
        if call.method == "GET" or call.takes_file:
            named = {one["name"] for one in operation.get("parameters", [])}
        else:
            schema = operation["requestBody"]["content"]["application/json"]["schema"]
            named = set(schema["properties"])
        assert named == {field.name for field in call.fields}
