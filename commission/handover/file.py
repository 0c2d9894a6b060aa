"""A document as a file: which form its name asks for, and never over a file that is there."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final, TypeAlias

from commission.errors import Problem, RecordError
from commission.handover.blocks import Document
from commission.handover.page import html_page
from commission.handover.text import text_pages

Form: TypeAlias = Callable[[Document], str]
_FORMS: Final[dict[str, Form]] = {".txt": text_pages, ".html": html_page}


def form_of(file: Path) -> Form:
    """Return what makes the content of a file of this name.

    Raises
    ------
    RecordError
        If its name ends otherwise than in .txt or .html, or there is such a file already.
    """
    form = _FORMS.get(file.suffix.lower())
    if form is None:
        raise _refused(file, "is no name of a document", "a name that ends in .txt or .html")
    if file.exists():
        raise _refused(file, "is there already", "the name of a new file")
    return form


def write_document(document: Document, file: Path, form: Form) -> None:
    """Write a document to a new file.

    Raises
    ------
    OSError
        If it cannot be written, or somebody else has made such a file meanwhile.
    """
    with file.open("x", encoding="utf-8", newline="\n") as made:
        made.write(form(document))


def _refused(file: Path, wrong: str, right: str) -> RecordError:
    return RecordError([Problem("handover", "--to", str(file), wrong, right)])
