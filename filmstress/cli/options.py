"""The options that every key of the lot file becomes."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Sequence
from typing import Annotated, Any

import typer

from filmstress.cli.sections import unbroken
from filmstress.errors import RefusedInput, UsageError
from filmstress.inputs.keys import Key, arguments
from filmstress.inputs.readers import (
    Choice,
    Quantity,
    QuantityOrWord,
    QuantityRange,
    shown,
)

_HEADINGS = {
    "substrate": "Substrate",
    "film": "Film",
    "scan": "Scans (each also as --pre-... and --post-... where the two differ)",
    "wafer": "Wafer",
}


def _metavar(key: Key) -> str:
    reader = key.reader
    if isinstance(reader, Quantity):
        return "QUANTITY"
    if isinstance(reader, QuantityOrWord):
        return f"{reader.word}|QUANTITY"
    if isinstance(reader, QuantityRange):
        return "LOW..HIGH"
    if isinstance(reader, Choice):
        return "|".join(reader.words)
    return "TEXT"


def _help(key: Key) -> str:
    reader = key.reader
    if isinstance(reader, Quantity | QuantityOrWord | QuantityRange):
        return f'{key.help.removesuffix(".")}: "{unbroken(reader.kind.example)}".'
    return key.help


def _said_once(option: str, values: Sequence[str]) -> str:
    """The one value of an option; two would contradict each other without a word."""
    if len(values) > 1:
        raise UsageError(
            f"is given {len(values)} times: {', '.join(map(shown, values))}",
            where=option,
            hint="give it once; where the two scans differ, as --pre-... and --post-...",
        )
    return values[0]


def _flag(name: str) -> str:
    return "--" + name.replace("_", "-")


def with_settings(function: Callable[..., None]) -> Callable[..., None]:
    """Give a command an option for every key; they arrive in ``**settings`` by argument name.

    Options that are not given are left out of ``settings``.
    """
    own = inspect.signature(function)
    keep = [p for p in own.parameters.values() if p.kind is not inspect.Parameter.VAR_KEYWORD]
    options = [
        inspect.Parameter(
            name,
            inspect.Parameter.KEYWORD_ONLY,
            default=None,
            annotation=Annotated[
                list[str] | None,
                typer.Option(
                    _flag(name),
                    help=_help(key),
                    metavar=_metavar(key),
                    rich_help_panel=_HEADINGS[key.table],
                    hidden=bool(state),
                    show_default=False,
                ),
            ],
        )
        for name, key, state in arguments()
    ]
    names = {option.name for option in options}

    def command(**given: Any) -> None:
        settings = {k: _said_once(_flag(k), v) for k, v in given.items() if k in names and v}
        try:
            function(**{k: v for k, v in given.items() if k not in names}, **settings)
        except RefusedInput as error:
            # The rooms call a setting by its name; here it is an option.
            if error.where in names:
                error.where = _flag(error.where)
            raise

    command.__name__, command.__doc__ = function.__name__, function.__doc__
    parameters = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in keep] + options
    # typer resolves annotations by name, so the command's own are taken as evaluated objects.
    resolved = inspect.signature(function, eval_str=True).parameters
    parameters = [
        p.replace(annotation=resolved[p.name].annotation) if p.name in resolved else p
        for p in parameters
    ]
    command.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    command.__annotations__ = {p.name: p.annotation for p in parameters}
    return command
