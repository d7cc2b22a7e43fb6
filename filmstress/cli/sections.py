"""Help with options under headings, without rich."""

from __future__ import annotations

from typing import Any

from typer.core import TyperCommand


class SectionedCommand(TyperCommand):
    """A command whose options stand under the headings they name in ``rich_help_panel``."""

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the options, one list for each heading."""
        sections: dict[str, list[tuple[str, str]]] = {}
        for parameter in self.get_params(ctx):
            record = parameter.get_help_record(ctx)
            if record is not None:
                heading = getattr(parameter, "rich_help_panel", None) or "Options"
                sections.setdefault(heading, []).append(record)
        # The command's own options last: the measurement's are what people look for.
        for heading in sorted(sections, key=lambda name: name == "Options"):
            with formatter.section(heading):
                formatter.write_dl(sections[heading])
