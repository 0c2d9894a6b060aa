"""What a printed document is made of, before anybody decides how it looks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeAlias


@dataclass(frozen=True, slots=True)
class Fact:
    """Something told under a word of its own: ``came   Ada Fennimore, technician``."""

    word: str
    texts: tuple[str, ...]
    """Each begins a line of its own."""


@dataclass(frozen=True, slots=True)
class Facts:
    """Facts below each other, their words in one column."""

    facts: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table."""

    head: str
    width: int
    """Letters that it may take in text."""
    number: bool = False
    """Whether it stands to the right."""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table, with what is to be said to it below."""

    cells: tuple[str, ...]
    notes: tuple[str, ...] = ()
    group: str = ""
    """What stands once above this and the following rows of the same group."""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under their heads."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]


Block: TypeAlias = Facts | Table


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the document under its heading."""

    title: str
    blocks: tuple[Block, ...]
    behind: bool = False
    """Stands behind the main part, for whoever wants to look it up."""


@dataclass(frozen=True, slots=True)
class Document:
    """A document to be printed."""

    title: str
    foot: str
    """What stands at the foot of every page, so that a loose one can be put back."""
    parts: tuple[Part, ...]
    closing: str
    """What is said last."""


def document_json(document: Document) -> dict[str, Any]:
    """Return a document with the stable keys of ``handover --json``."""
    return {
        "title": document.title,
        "foot": document.foot,
        "parts": [
            {"title": part.title, "behind": part.behind, "blocks": [_block_json(one) for one in part.blocks]}
            for part in document.parts
        ],
    }


def _block_json(block: Block) -> dict[str, Any]:
    if isinstance(block, Facts):
        return {"facts": [{"word": fact.word, "texts": list(fact.texts)} for fact in block.facts]}
    heads = [column.head for column in block.columns]
    rows = [{"group": row.group, "cells": list(row.cells), "notes": list(row.notes)} for row in block.rows]
    return {"heads": heads, "rows": rows}
