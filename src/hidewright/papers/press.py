"""The press: content as plain data and a template's name in, PDF bytes out."""

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from hidewright.charts.ink import FONTS
from hidewright.papers.flow import flowing
from hidewright.papers.paper_size import check_paper
from hidewright.refusals import Refusal

TEMPLATES: Final = Path(str(files("hidewright.papers") / "templates"))


def press(template: str, content: Mapping[str, Any], *, made_on: date, paper: str = "") -> bytes:
    """The PDF of `content` in the template called `template` (its file name without the ending), on the sheet named by `paper` where it names one.

    No network, no system fonts, and the creation time is `made_on`: the same content gives the same bytes.
    """
    import typst

    if paper:
        check_paper(paper)
        content = {**content, "paper": paper}
    path = TEMPLATES / f"{template}.typ"
    if not path.is_file():
        raise Refusal(f"There is no paper called “{template}”.", remedy="Choose one of the papers listed.")
    try:
        pdf = typst.compile(
            path,
            root=TEMPLATES,
            font_paths=[FONTS],
            ignore_system_fonts=True,
            format="pdf",
            sys_inputs={"content": json.dumps(flowing(content), ensure_ascii=False, sort_keys=True)},
            timestamp=datetime(made_on.year, made_on.month, made_on.day, tzinfo=UTC),
        )
    except typst.TypstError as error:
        raise Refusal(
            f"The paper could not be set: {error}", where=template, remedy="Report it with the data."
        ) from error
    return pdf
