"""One table of what the page may ask: each call with its fields, so that checking and describing can't differ."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from blendkit.errors import BlendkitError, Problem

Kind = Literal["text", "number", "whole", "yes", "texts", "pairs", "place", "object", "objects", "list"]
Given = Mapping[str, Any]

LONGEST_LIST = 2000
"""Most entries of a list that is taken; a drawer of that many markers is beyond any craft table."""

_JSON_TYPES: dict[str, dict[str, Any]] = {
    "text": {"type": "string"},
    "number": {"type": "number"},
    "whole": {"type": "integer"},
    "yes": {"type": "boolean"},
    "texts": {"type": "array", "items": {"type": "string"}},
    "pairs": {"type": "array", "items": {"type": "array", "items": {"type": "string"}, "minItems": 2}},
    "place": {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2},
    "object": {"type": "object"},
    "objects": {"type": "array", "items": {"type": "object"}},
    "list": {"type": "array", "items": {}},
}


class CallError(BlendkitError):
    """A question that the page can't have meant: a field that is missing, unknown or of another kind."""


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a question.

    Args:
        name: as sent.
        kind: what is accepted: text, number, whole, yes (true or false), texts, pairs (of texts), place
            ([x, y]), object, objects, or list (of anything, which the answer checks).
        words: what it means, for the description.
        required: whether the question makes no sense without it.
        default: what is taken when it isn't sent.
        choices: the only texts accepted, or empty for any.
        low, high: limits of a number.
        longest: most letters of a text.
    """

    name: str
    kind: Kind
    words: str
    required: bool = False
    default: Any = None
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    longest: int = 400


@dataclass(frozen=True)
class Call:
    """One call of the page: where it is, what it takes, and the function that answers it.

    Args:
        method: GET for looking, POST for whatever changes something or is sent a file.
        path: under /api.
        words: what it does, one line.
        answer: function of the desk and the checked fields; gives a record, a dict or a :class:`File`.
        fields: what it takes, in the address for GET and for files, else as a JSON object.
        takes_file: whether the body is a file.
        gives: media type of the answer.
    """

    method: Literal["GET", "POST"]
    path: str
    words: str
    answer: Callable[..., Any]
    fields: tuple[Field, ...] = ()
    takes_file: bool = False
    gives: str = "application/json"


def parse_fields(fields: tuple[Field, ...], sent: Mapping[str, Any], as_text: bool = False) -> dict[str, Any]:
    """Check what was sent against the fields.

    Args:
        fields: what is accepted.
        sent: name to value; with *as_text* every value is a text, or a list of texts, from the address.
        as_text: read numbers and yes/no from texts.

    Returns: every field by name, defaults filled in.
    Raises: CallError with every field that is not right.
    """
    problems: list[Problem] = []
    known = {field.name for field in fields}
    for name in sent:
        if name not in known:
            problems.append(Problem(_short(name), "a field", ", ".join(sorted(known)) or "no field"))
    given: dict[str, Any] = {}
    for field in fields:
        value = sent.get(field.name)
        if value is None or (as_text and value == [""]):
            if field.required:
                problems.append(Problem(field.name, "nothing", field.words))
            given[field.name] = field.default
            continue
        if as_text:
            value = _from_text(field, value)
        fault = _fault(field, value)
        if fault:
            problems.append(Problem(field.name, _short(value), fault))
        given[field.name] = float(value) if field.kind == "number" and not fault else value
    if problems:
        raise CallError("The page asked something that can't be answered.", problems)
    return given


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 80 else text[:77] + "…"


def _from_text(field: Field, values: list[str]) -> Any:
    if field.kind == "texts":
        return [text for text in values if text]
    text = values[-1]
    if field.kind == "yes":
        return {"true": True, "1": True, "false": False, "0": False}.get(text, text)
    try:
        if field.kind == "whole":
            return int(text)
        if field.kind == "number":
            return float(text)
    except ValueError:
        return text
    return text


def _fault(field: Field, value: Any) -> str:
    """Give what is accepted when *value* is not, else ""."""
    if field.kind == "text":
        return _text_fault(field, value)
    if field.kind in ("number", "whole"):
        return _number_fault(field, value)
    if field.kind == "yes":
        return "" if isinstance(value, bool) else "true or false"
    if field.kind == "object":
        return "" if isinstance(value, dict) else "an object"
    if not isinstance(value, list) or len(value) > LONGEST_LIST:
        return f"a list of at most {LONGEST_LIST}"
    if field.kind == "list":
        return ""
    if field.kind == "texts":
        return next((fault for one in value if (fault := _text_fault(field, one))), "")
    if field.kind == "objects":
        return "" if all(isinstance(one, dict) for one in value) else "a list of objects"
    if field.kind == "place":
        fine = len(value) == 2 and all(_is_number(one) and 0.0 <= one <= 1.0 for one in value)
        return "" if fine else "[x, y], each from 0 to 1"
    fine = all(isinstance(one, list) and len(one) == 2 for one in value)
    fine = fine and all(not _text_fault(field, text) for pair in value for text in pair)
    return "" if fine else "a list of pairs of texts"


def _text_fault(field: Field, value: Any) -> str:
    if not isinstance(value, str) or "\x00" in value:
        return "a text"
    if field.choices and value not in field.choices:
        return ", ".join(field.choices)
    return "" if len(value) <= field.longest else f"a text of at most {field.longest} letters"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= 1e300


def _number_fault(field: Field, value: Any) -> str:
    whole = field.kind == "whole"
    low, high = field.low, field.high
    fine = _is_number(value) and (not whole or isinstance(value, int))
    if fine and (low is None or value >= low) and (high is None or value <= high):
        return ""
    limits = "" if low is None and high is None else f" from {low:g} to {high:g}"
    return f"a {'whole ' if whole else ''}number{limits}"


# ---------------------------------------------------------------- description


def describe_calls(calls: tuple[Call, ...], version: str) -> dict[str, Any]:
    """Describe the calls as OpenAPI 3.1 has it.

    Args:
        calls: the table.
        version: of blendkit.

    Returns: the document, as plain data.
    """
    paths: dict[str, dict[str, Any]] = {}
    for call in calls:
        paths.setdefault(f"/api{call.path}", {})[call.method.lower()] = _operation(call)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "blendkit desk",
            "version": version,
            "description": (
                "What the local page asks. Answers are the records that the command line prints with --json, "
                "schema 1, with text colours for their swatches added. Every request needs the cookie that the "
                "opened address sets; every POST needs the page's own Origin."
            ),
        },
        "paths": paths,
        "components": {
            "schemas": {
                "Fault": {
                    "type": "object",
                    "required": ["message", "problems"],
                    "properties": {
                        "message": {"type": "string"},
                        "problems": {
                            "type": "array",
                            "items": {
                                "type": "object",
                                "properties": {
                                    name: {"type": "string"} for name in ("where", "found", "accepted")
                                },
                            },
                        },
                    },
                }
            },
            "securitySchemes": {"desk": {"type": "apiKey", "in": "cookie", "name": "blendkit_desk_<port>"}},
        },
        "security": [{"desk": []}],
    }


def _schema(field: Field) -> dict[str, Any]:
    schema: dict[str, Any] = {**_JSON_TYPES[field.kind], "description": field.words}
    if field.kind == "text":
        schema["maxLength"] = field.longest
    if field.choices:
        schema["enum"] = list(field.choices)
    if field.low is not None:
        schema["minimum"] = field.low
    if field.high is not None:
        schema["maximum"] = field.high
    if field.default is not None:
        schema["default"] = field.default
    return schema


def _operation(call: Call) -> dict[str, Any]:
    fault = {"application/json": {"schema": {"$ref": "#/components/schemas/Fault"}}}
    operation: dict[str, Any] = {
        "summary": call.words,
        "operationId": f"{call.method.lower()}_{call.path.strip('/').replace('/', '_').replace('-', '_')}",
        "responses": {
            "200": {
                "description": "The answer.",
                "content": {call.gives: {"schema": {"type": "object"} if "json" in call.gives else {}}},
            },
            "403": {"description": "Not this page: no cookie, or another Host or Origin."},
            "422": {"description": "A mistake that the person can mend, in words.", "content": fault},
        },
    }
    if call.method == "GET" or call.takes_file:
        operation["parameters"] = [
            {"name": field.name, "in": "query", "required": field.required, "schema": _schema(field)}
            for field in call.fields
        ]
    if call.takes_file:
        content = {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}
        operation["requestBody"] = {"required": True, "content": content}
        operation["responses"]["413"] = {"description": "The file is larger than is taken.", "content": fault}
    elif call.method == "POST":
        schema = {
            "type": "object",
            "additionalProperties": False,
            "required": [field.name for field in call.fields if field.required],
            "properties": {field.name: _schema(field) for field in call.fields},
        }
        operation["requestBody"] = {"required": True, "content": {"application/json": {"schema": schema}}}
        operation["responses"]["409"] = {"description": "It changed meanwhile elsewhere.", "content": fault}
    return operation
