"""One table of what the page may ask: each call with its fields, so that checking and describing can't differ."""

import dataclasses
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import UnionType
from typing import Any, Literal, TypeVar, Union, dataclass_transform, get_args, get_origin, get_type_hints

from blendkit.desk.files import Upload
from blendkit.errors import BlendkitError, Problem
from blendkit.forms import At, Check, Flag, Number, Numbers, Own, Rows, Words, checks_of, shown

Question = TypeVar("Question")

Place = tuple[float, float]
"""Shares of a picture's width and height, each 0 to 1."""

Kind = Literal["text", "number", "whole", "yes", "texts", "place", "places", "objects"]

_KINDS: dict[Any, Kind] = {
    str: "text",
    float: "number",
    int: "whole",
    bool: "yes",
    tuple[str, ...]: "texts",
    Place: "place",
    tuple[Place, ...]: "places",
    tuple[dict[str, object], ...]: "objects",
}
"""What is sent for each type of a question's field."""

LONGEST_LIST = 2000
"""Most entries of a list that is taken; a drawer of that many markers is beyond any craft table."""

_JSON_TYPES: dict[str, dict[str, Any]] = {
    "text": {"type": "string"},
    "number": {"type": "number"},
    "whole": {"type": "integer"},
    "yes": {"type": "boolean"},
    "texts": {"type": "array", "items": {"type": "string"}},
    "place": {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2},
    "places": {"type": "array", "items": {"type": "array", "items": {"type": "number"}}},
    "objects": {"type": "array", "items": {"type": "object"}},
}


class CallError(BlendkitError):
    """A question that the page can't have meant: a field that is missing, unknown or of another kind."""


_PLACE = Numbers(2, 0, 1, "[x, y], each from 0 to 1")
_OBJECT = Own(lambda value, at: value if isinstance(value, dict) else at.fault(value, "an object"))


@dataclass(frozen=True)
class Field:
    """One field of a question, as :func:`ask` and its type tell it."""

    name: str
    kind: Kind
    words: str
    required: bool = False
    default: Any = None
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    longest: int = 400

    @cached_property
    def check(self) -> Check:
        """What is taken for it."""
        text = Words(self.choices, self.longest, exact=True)
        low, high = (
            -math.inf if self.low is None else self.low,
            math.inf if self.high is None else self.high,
        )
        checks: dict[Kind, Check] = {
            "text": text,
            "number": Number(low, high),
            "whole": Number(low, high, whole=True),
            "yes": Flag(),
            "texts": Rows(text, most=LONGEST_LIST),
            "place": _PLACE,
            "places": Rows(_PLACE, 1, LONGEST_LIST, words="a list of places [x, y], each from 0 to 1"),
            "objects": Rows(_OBJECT, most=LONGEST_LIST),
        }
        return checks[self.kind]


def ask(
    words: str, *, required: bool = False, default: Any = None, like: type | None = None, **limits: Any
) -> Any:
    """Declare a field of a question.

    Args:
        words: what it means, for the description.
        required: whether the question makes no sense without it.
        default: what is taken when it isn't sent.
        like: a form whose field of that name has the limits (:mod:`blendkit.forms`).
        limits: ``choices``, the only texts accepted, where the type doesn't tell them; ``low`` and ``high`` of a
            number; ``longest``, most letters of a text.
    """
    told = {"words": words, "required": required, "default": default, "like": like, **limits}
    return dataclasses.field(default=default, metadata=told)


@dataclass_transform(frozen_default=True, kw_only_default=True)
def question(cls: type[Question]) -> type[Question]:
    """Make a frozen record of a class whose fields are declared by :func:`ask`."""
    return dataclass(frozen=True, kw_only=True)(cls)


@question
class Nothing:
    """The question of a call that takes no fields."""


def fields_of(asked: type) -> tuple[Field, ...]:
    """Give the fields of a question's class."""
    hints = get_type_hints(asked)
    found = []
    for one in dataclasses.fields(asked):
        hint = hints[one.name]
        if get_origin(hint) in (Union, UnionType):
            hint = next(each for each in get_args(hint) if each is not type(None))
        told = dict(one.metadata)
        like = told.pop("like")
        check = checks_of(like)[one.name] if like is not None else None
        if isinstance(check, Number):
            told |= {"low": check.low, "high": check.high}
        elif isinstance(check, Words):
            told |= {"choices": tuple(check.among)}
        if get_origin(hint) is Literal:
            found.append(Field(one.name, "text", choices=get_args(hint), **told))
        else:
            found.append(Field(one.name, _KINDS[hint], **told))
    return tuple(found)


@dataclass(frozen=True)
class Call:
    """One call of the page; what it takes and means is read from the function that answers it.

    Args:
        method: GET for looking, POST for whatever changes something or is sent a file.
        path: under /api.
        answer: function of the desk, of the checked question if it takes one, and of the file that is sent if it
            takes one; gives a record, a dict or a :class:`~blendkit.desk.files.File`.
        gives: media type of the answer.
    """

    method: Literal["GET", "POST"]
    path: str
    answer: Callable[..., Any]
    gives: str = "application/json"

    @cached_property
    def _takes(self) -> list[type]:
        hints = get_type_hints(self.answer)
        return [hint for name, hint in hints.items() if name != "return"][1:]

    @cached_property
    def takes_file(self) -> bool:
        """Whether the body is a file."""
        return Upload in self._takes

    @cached_property
    def asked(self) -> type:
        """The class of its question; its fields go in the address for GET and for files, else as a JSON object."""
        return next((one for one in self._takes if one is not Upload), Nothing)

    @property
    def fields(self) -> tuple[Field, ...]:
        """What it takes."""
        return fields_of(self.asked)

    @property
    def words(self) -> str:
        """What it does, one line."""
        return (self.answer.__doc__ or "").partition("\n")[0]

    def given(self, parsed: Any) -> list[Any]:
        """What the answer is given besides desk and file."""
        return [] if self.asked is Nothing else [parsed]


def parse_question(asked: type[Question], sent: Mapping[str, Any], as_text: bool = False) -> Question:
    """Check what was sent against the fields of a question.

    Args:
        asked: the question's class.
        sent: name to value; with *as_text* every value is a text, or a list of texts, from the address.
        as_text: read numbers and yes/no from texts.

    Returns: the question, defaults filled in.
    Raises: CallError with every field that is not right.
    """
    problems: list[Problem] = []
    at = At("", problems)
    fields = fields_of(asked)
    known = {field.name for field in fields}
    for name in sent:
        if name not in known:
            problems.append(Problem(shown(name), "a field", ", ".join(sorted(known)) or "no field"))
    given: dict[str, Any] = {}
    for field in fields:
        value = sent.get(field.name)
        if value is None or (as_text and value == [""]):
            if field.required:
                problems.append(Problem(field.name, "nothing", field.words))
            continue
        if as_text:
            value = _from_text(field, value)
        given[field.name] = field.check.read(value, at.of(field.name))
    if problems:
        raise CallError("The page asked something that can't be answered.", problems)
    return asked(**given)


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
    if field.default not in (None, ()):
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
