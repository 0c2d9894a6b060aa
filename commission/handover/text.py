"""A document as plain text: 80 letters wide, pages of 60 lines, as every printer has them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from textwrap import wrap
from typing import Final

from commission.handover.blocks import Block, Column, Document, Fact, Facts, Part, Row, Table
from commission.plant.explain import printable

WIDTH: Final = 80
LINES: Final = 60
"""Of a page, its foot counted; A4 and Letter hold them."""
_BODY: Final = LINES - 2
_GAP: Final = 1
_INDENT: Final = 3
_LONGEST: Final = 2000
_WORD: Final = 17
"""Letters of the widest word that facts stand under."""


@dataclass(frozen=True, slots=True)
class _Chunk:
    """Lines that stay on one page."""

    lines: tuple[str, ...]
    heads: tuple[str, ...] = ()
    """What is said again above it where it begins a page."""
    with_next: bool = False


def text_lines(document: Document) -> Iterator[str]:
    """Yield a document without pages, for a terminal."""
    for chunk in _chunks(document):
        yield from chunk.lines


def text_pages(document: Document) -> str:
    """Return a document in pages, each with its foot; a form feed parts them."""
    pages = _paged(list(_chunks(document)))
    made = []
    for number, lines in enumerate(pages, start=1):
        body = [*lines, *[""] * (_BODY - len(lines)), "", _foot(document, f"page {number} of {len(pages)}")]
        made.append("\n".join(body))
    return "\n\f".join(made) + "\n"


def _foot(document: Document, page: str) -> str:
    told = printable(document.foot, WIDTH - len(page) - 2)
    return f"{told:<{WIDTH - len(page)}}{page}"


# pages


def _paged(chunks: list[_Chunk]) -> list[list[str]]:
    pages: list[list[str]] = [[]]
    for place, chunk in enumerate(chunks):
        page = pages[-1]
        if page and len(page) + _wanted(chunks, place) > _BODY:
            pages.append([])
            page = pages[-1]
            page += [*chunk.heads]
        lines = list(chunk.lines)
        if not page:
            lines = lines[next((at for at, line in enumerate(lines) if line), 0) :]
        while len(page) + len(lines) > _BODY:  # longer than a page by itself
            room = _BODY - len(page)
            page += lines[:room]
            lines = lines[room:]
            pages.append([])
            page = pages[-1]
        page += lines
    return pages


def _wanted(chunks: list[_Chunk], place: int) -> int:
    """Return the lines that have to fit: those of a heading, and of what comes under it."""
    many = len(chunks[place].lines)
    while chunks[place].with_next and place + 1 < len(chunks):
        place += 1
        many += len(chunks[place].lines)
    return many


# what stands on them


def _chunks(document: Document) -> Iterator[_Chunk]:
    title = _wrapped(document.title, WIDTH)
    yield _Chunk((*title, "=" * max(len(line) for line in title)), with_next=True)
    for part in document.parts:
        yield from _of_part(part)
    yield _Chunk(("", *_wrapped(document.closing, WIDTH)))


def _of_part(part: Part) -> Iterator[_Chunk]:
    title = printable(part.title.upper() if part.behind else part.title, WIDTH)
    yield _Chunk(("", title, "-" * len(title)), with_next=True)
    for place, block in enumerate(part.blocks):
        if place:
            yield _Chunk(("",))
        yield from _of_block(block)


def _of_block(block: Block) -> Iterator[_Chunk]:
    if isinstance(block, Table):
        yield from _of_table(block)
        return
    width = min(max((len(fact.word) for fact in block.facts), default=0), _WORD)
    for fact in block.facts:
        yield _Chunk(tuple(_of_fact(fact, width + 2 if width else 0)))


def _of_fact(fact: Fact, indent: int) -> Iterator[str]:
    lines = [line for text in fact.texts for line in _wrapped(text, WIDTH - indent)]
    word = printable(fact.word, WIDTH)
    if len(word) > indent - 2 and word:
        yield word
        word = ""
    for place, line in enumerate(lines):
        yield f"{word if place == 0 else '':<{indent}}{line}"


def _of_table(table: Table) -> Iterator[_Chunk]:
    heads = tuple(_of_cells(tuple(column.head for column in table.columns), table.columns))
    yield _Chunk(heads, with_next=True)
    group = ""
    for row in table.rows:
        above = tuple(_wrapped(row.group, WIDTH)) if row.group else ()
        lines = tuple(_of_row(row, table.columns))
        if row.group == group:
            yield _Chunk(lines, (*heads, *above))
        else:
            yield _Chunk((*above, *lines), heads)
        group = row.group


def _of_row(row: Row, columns: tuple[Column, ...]) -> Iterator[str]:
    yield from _of_cells(row.cells, columns)
    for note in row.notes:
        yield from (" " * _INDENT + line for line in _wrapped(note, WIDTH - _INDENT))


def _of_cells(cells: tuple[str, ...], columns: tuple[Column, ...]) -> Iterator[str]:
    wrapped = [_wrapped(cell, column.width) for cell, column in zip(cells, columns, strict=True)]
    for line in range(max(len(lines) for lines in wrapped)):
        told = [lines[line] if line < len(lines) else "" for lines in wrapped]
        yield (
            (" " * _GAP)
            .join(
                f"{text:>{column.width}}" if column.number else f"{text:<{column.width}}"
                for text, column in zip(told, columns, strict=True)
            )
            .rstrip()
        )


def _wrapped(text: str, width: int) -> list[str]:
    """Return a text in lines; anybody may have written it, so no command reaches a printer."""
    return wrap(printable(text, _LONGEST), width, break_on_hyphens=False) or [""]


def facts(*told: tuple[str, str]) -> Facts:
    """Return facts of one line each; what is empty is left out."""
    return Facts(tuple(Fact(word, (text,)) for word, text in told if text))
