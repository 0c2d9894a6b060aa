"""A document as one page of HTML that any browser shows and prints; nothing in it is fetched or run."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import Final

from commission.errors import harmless
from commission.handover.blocks import Document, Facts, Part, Row, Table

_STYLE: Final = """
@page { size: A4; margin: 16mm 16mm 18mm; @bottom-left { content: "FOOT"; font: 8pt sans-serif; }
  @bottom-right { content: "page " counter(page) " of " counter(pages); font: 8pt sans-serif; } }
body { font: 9.5pt/1.3 sans-serif; color: #000; background: #fff; max-width: 46em; margin: 1em auto;
  padding: 0 1em; }
h1 { font-size: 15pt; margin: 0 0 .4em; border-bottom: 1.5pt solid; padding-bottom: .2em; }
h2 { font-size: 11.5pt; margin: .9em 0 .2em; break-after: avoid; }
table { border-collapse: collapse; width: 100%; margin: 0 0 .5em; }
td, th { text-align: left; vertical-align: top; padding: .1em .9em .1em 0; font-weight: normal; }
thead th { border-bottom: .75pt solid; font-weight: bold; vertical-align: bottom; }
thead { display: table-header-group; }
tbody { break-inside: avoid; }
.rows tr.first td, .group th { border-top: .4pt solid #bbb; }
.group { break-after: avoid; }
.facts th { width: 9.5em; font-weight: bold; }
.number { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
.note td { padding-left: 1.5em; font-size: 9pt; color: #333; }
.behind { font-size: 9pt; }
p { margin: .1em 0; } .closing, .foot { margin-top: 1.2em; font-size: 9pt; }
@media print { body { max-width: none; margin: 0; padding: 0; } .foot { display: none; } }
"""


def html_page(document: Document) -> str:
    """Return a document as one file of HTML with its style in it."""
    return "\n".join(_page(document)) + "\n"


def _page(document: Document) -> Iterator[str]:
    yield "<!DOCTYPE html>"
    yield '<html lang="en"><head><meta charset="utf-8">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield f"<title>{_safe(document.title)}</title>"
    yield f"<style>{_STYLE.replace('FOOT', _in_style(document.foot))}</style></head><body>"
    yield f"<h1>{_safe(document.title)}</h1>"
    for part in document.parts:
        yield from _part(part)
    yield f'<p class="closing">{_safe(document.closing)}</p>'
    yield f'<p class="foot">{_safe(document.foot)}</p>'
    yield "</body></html>"


def _part(part: Part) -> Iterator[str]:
    yield f'<section class="{"behind" if part.behind else "main"}"><h2>{_safe(part.title)}</h2>'
    for block in part.blocks:
        yield from _facts(block) if isinstance(block, Facts) else _table(block)
    yield "</section>"


def _facts(block: Facts) -> Iterator[str]:
    if not any(fact.word for fact in block.facts):
        yield from (f"<p>{_safe(text)}</p>" for fact in block.facts for text in fact.texts)
        return
    yield '<table class="facts">'
    for fact in block.facts:
        told = "".join(f"<p>{_safe(text)}</p>" for text in fact.texts)
        yield f'<tbody><tr><th scope="row">{_safe(fact.word)}</th><td>{told}</td></tr></tbody>'
    yield "</table>"


def _table(table: Table) -> Iterator[str]:
    heads = "".join(
        f'<th scope="col"{_side(column.number)}>{_safe(column.head)}</th>' for column in table.columns
    )
    yield f'<table class="rows"><thead><tr>{heads}</tr></thead>'
    group = ""
    for row in table.rows:
        if row.group and row.group != group:
            head = f'<th scope="rowgroup" colspan="{len(table.columns)}">{_safe(row.group)}</th>'
            yield f'<tbody class="group"><tr>{head}</tr></tbody>'
        group = row.group
        yield from _row(row, table)
    yield "</table>"


def _row(row: Row, table: Table) -> Iterator[str]:
    cells = "".join(
        f"<td{_side(column.number)}>{_safe(cell)}</td>"
        for cell, column in zip(row.cells, table.columns, strict=True)
    )
    yield f"<tbody><tr>{cells}</tr>" if row.group else f'<tbody><tr class="first">{cells}</tr>'
    for note in row.notes:
        yield f'<tr class="note"><td colspan="{len(table.columns)}">{_safe(note)}</td></tr>'
    yield "</tbody>"


def _side(number: bool) -> str:
    return ' class="number"' if number else ""


def _safe(text: str) -> str:
    """Return a text as nothing but text, whoever wrote it."""
    return escape(harmless(text))


def _in_style(text: str) -> str:
    """Return a text as it may stand in quotes in a stylesheet, where it can end neither."""
    return "".join(sign if sign.isalnum() or sign in " .,:;-" else f"\\{ord(sign):06x}" for sign in text)
