"""What the pages of lists ask for: a file or a paste; then what columns, words and cells mean."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict

from hidewright.lists.cells import UNITS
from hidewright.lists.draft import Answers, Draft, tidied
from hidewright.lists.grid import LARGEST, Grid, grid_of_file, grid_of_text
from hidewright.lists.headings import IGNORED
from hidewright.lists.kinds import ListKind, Sort
from hidewright.refusals import Refusal


class BringForm(forms.Form):
    """A list: a file, or rows pasted out of a spreadsheet."""

    file = forms.FileField(
        label="File",
        required=False,
        help_text="A spreadsheet (xlsx, ods, xls) or a CSV file, with whatever columns it has.",
        widget=forms.FileInput(attrs={"accept": ".xlsx,.xlsm,.xlsb,.xls,.ods,.csv,.tsv,.txt"}),
    )
    rows = forms.CharField(
        label="or rows copied from a spreadsheet",
        required=False,
        strip=False,
        max_length=LARGEST,
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "off", "spellcheck": "false"}),
    )

    def __init__(self, *args: Any, kind: ListKind | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = kind

    def clean(self) -> dict[str, Any]:
        """Read the list, as `grid` and `name`."""
        data = super().clean() or {}
        if self.errors:
            return data
        if not data.get("file") and not (data.get("rows") or "").strip():
            raise forms.ValidationError("Choose a file first, or paste rows.")
        try:
            grid, data["name"] = self._grid(data)
            data["grid"] = tidied(self.kind, grid) if self.kind else grid
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        return data

    def _grid(self, data: dict[str, Any]) -> tuple[Grid, str]:
        upload: UploadedFile[bytes] | None = data.get("file")
        if upload is None:
            return grid_of_text(data["rows"]), "Pasted rows"
        if (upload.size or 0) > LARGEST:
            raise Refusal("The file is too large.", remedy=f"It may hold up to {LARGEST >> 20} MB.")
        return grid_of_file(upload.read()), str(upload.name)


def answers_in(sent: QueryDict, before: Answers, draft: Draft) -> Answers:
    """What a sent page says, on top of what was said before; what it does not name stays."""
    kind = draft.kind
    columns = dict(before.columns)
    bands = sent.get("bands", "")
    for column in draft.columns:
        if bands in UNITS[Sort.BAND] and kind.sort_of(column.meaning) is Sort.BAND:
            columns[column.at] = (column.meaning, bands)
            continue
        meaning = sent.get(f"c{column.at}")
        if meaning is None or not (meaning in ("", IGNORED) or meaning in kind.keys):
            continue
        unit = sent.get(f"u{column.at}", "")[:12]
        if meaning:
            columns[column.at] = (meaning, unit if meaning == column.meaning or unit != column.unit else "")
        else:
            columns.pop(column.at, None)
    words = dict(before.words)
    for n in range(len(draft.questions) + len(before.words)):
        meaning, _, word = sent.get(f"word{n}", "").partition("|")
        value = sent.get(f"value{n}", "")
        if meaning in kind.keys and word and value in (*kind.meaning(meaning).choices, "yes", "no"):
            words[meaning, word[:200]] = value
    cells, out = dict(before.cells), set(before.out)
    for line in draft.lines:
        if f"o{line.line}" in sent:
            out.add(line.line)
        for key in kind.keys:
            text = sent.get(f"m{line.line}-{key}")
            if text is not None and text.strip() != line.written.get(key, ""):
                cells[line.line, key] = text.strip()[:300]
    if "nothing-out" in sent:
        out.clear()
    mark = sent.get("mark", before.mark)
    return Answers(
        above=_above(sent.get("above", ""), before.above, len(draft.lines)),
        columns=columns,
        mark=mark if mark in ("", ".", ",") else before.mark,
        words=words,
        cells=cells,
        out=frozenset(out),
    )


def _above(text: str, before: int | None, most: int) -> int | None:
    return min(int(text), 15) if text.isascii() and text.isdigit() and len(text) < 3 else before
