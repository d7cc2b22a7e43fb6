"""Help without rich: arguments first, then options under headings."""

from __future__ import annotations

from typing import Any

from typer.core import TyperCommand

_ARGUMENTS, _GENERAL = "Arguments", "Options"
_NO_BREAK = "\u00a0"


def unbroken(text: str) -> str:
    """A text that help does not break across lines."""
    return text.replace(" ", _NO_BREAK)


class SectionedCommand(TyperCommand):
    """A command whose options stand under the headings they name in ``rich_help_panel``."""

    def get_help(self, ctx: Any) -> str:
        """The whole help; what must not be broken has been laid out by now."""
        return super().get_help(ctx).replace(_NO_BREAK, " ")

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """``SCAN... [OPTIONS]``: what is required stands plain, what is not in brackets."""
        names = [
            parameter.make_metavar(ctx)
            if parameter.required
            else f"[{parameter.make_metavar(ctx).strip('[]')}]"
            for parameter in self.get_params(ctx)
            if parameter.param_type_name == "argument"
        ]
        return [*names, "[OPTIONS]"]

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the options, one list for each heading."""
        sections: dict[str, list[tuple[str, str]]] = {_ARGUMENTS: []}
        for parameter in self.get_params(ctx):
            record = parameter.get_help_record(ctx)
            if record is None:
                continue
            heading = getattr(parameter, "rich_help_panel", None) or _GENERAL
            if parameter.param_type_name == "argument":
                heading = _ARGUMENTS
                # That an argument is required is said by the usage line.
                record = record[0], record[1].removesuffix("[required]").rstrip()
            sections.setdefault(heading, []).append(record)
        # The command's own options last: the measurement's are what people look for.
        filled = [heading for heading, records in sections.items() if records]
        for heading in sorted(filled, key=lambda name: name == _GENERAL):
            with formatter.section(heading):
                formatter.write_dl(sections[heading])
