"""`stampreader standards`: what marks, class letters and figures mean, with minima and sources."""

from __future__ import annotations

from typing import Annotated

import typer

from stampreader.cli.common import JsonOption


def command(
    mark: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="MARK",
            help="A mark such as 'EN 362:2004/B', a class letter, a word such as 'open' or "
            "'margin'; nothing for everything.",
        ),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Explain a mark, a class letter or the figures, with minimum strengths and sources."""
    from stampreader.cli.common import emit_json
    from stampreader.cli.show_standards import lesson_row, show_lessons
    from stampreader.standards import explain

    lessons = explain(" ".join(mark or []))
    if as_json:
        emit_json(map(lesson_row, lessons))
    else:
        show_lessons(lessons)
