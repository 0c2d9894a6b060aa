"""One record: what the supervisor must look at first, then everything; it is checked while it is read."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from commission import __version__
from commission.desk.lines import answer_sentence, is_unread, record_title
from commission.desk.names import concern_line, concern_text, load, step_words
from commission.desk.opened import Checked, checked
from commission.desk.returns import RETURNED
from commission.desk.site_visits import key_of
from commission.desk.tables import NOT_CHECKED
from commission.desk.whole import Said
from commission.errors import CommissionError
from commission.screens.desk_app import desk_of
from commission.screens.desk_page import Lines
from commission.screens.panels import LinePanel, TextPanel
from commission.screens.rows import Row, heading, plain_row
from commission.visit.shelf import keys_root

if TYPE_CHECKING:
    from commission.desk.index import Index
    from commission.records.seals import Comment


@dataclass(frozen=True, slots=True)
class _Known:
    """What the index knows of a record."""

    row: dict[str, Any]
    path: Path
    concerns: list[dict[str, Any]]
    said: list[dict[str, Any]]
    returned: list[dict[str, Any]]
    """Other records of the site that were returned and that nobody has answered."""
    chain: list[str]
    """What is odd about its place among the records of its site."""


class OneRecord(Lines):
    """Read a record, comment on its steps, countersign or return it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f3", "comment", "comment", id="comment", tooltip="Comment at the step of the line in view"),
        Binding("f5", "compare", "compare", id="compare", tooltip="Compare with the record before it"),
        Binding("f6", "trend", "trend", id="trend", tooltip="Trend of the reading in view"),
        Binding("f9", "answer", "answer", id="answer", tooltip="Countersign, or return with comments"),
    ]
    help_text = (
        "One record: first what you must look at, worst first; then everything that stands in it.\n\n"
        "  type          only lines with these words\n"
        "  Enter         the whole text of the line in view\n"
        "  F3            a comment at its step; on a line of no step, to the whole record.\n"
        "                Empty takes the comment back. Comments stay kept until you answer.\n"
        "  F5            compare with the record before it: only what changed\n"
        "  F6            trend of the reading in view over all visits\n"
        "  F9            answer: countersign, or return with your comments\n\n"
        "Until it says how it stands, a record is not checked yet. Opening it checks every seal and\n"
        "attached file and works out anew every setting, finding and verdict that it holds.\n"
        "A returned record opens at the steps of your comments on the technician's laptop."
    )

    takes = "whole"

    has_state = True
    tells = True

    def __init__(self, record: int, about: str = "") -> None:
        """Make the page; ``about`` is the key of what is to be in view first, where it is looked at first."""
        super().__init__()
        self._record, self._about = record, about
        self._known: _Known | None = None
        self._checked: Checked | None = None
        self._lines: dict[str, Said] = {}
        self.comments: tuple[Comment, ...] = ()
        """Typed and not sent yet."""

    def on_mount(self) -> None:
        self._ask_index()

    def _ask_index(self) -> None:
        number = self._record

        def work(index: Index) -> _Known | None:
            row = next(iter(index.ask("record", record=number)), None)
            if row is None:
                return None
            said = index.ask("comments of record", record=number)
            load()
            concerns = index.ask("concerns of record", record=number)
            still = index.ask("concerns of site", site=row["site"]) if row["site"] else []
            returned = [one for one in still if one["kind"] == RETURNED and one["record"] != number]
            odd = index.ask("chain of site", site=row["site"])
            chain = [str(one["says"]) for one in odd if one["record"] == number]
            return _Known(row, index.file_of(row), concerns, said, returned, chain)

        self.ask(work, self._show_known)

    def _show_known(self, known: _Known | None) -> None:
        if known is None:
            self.say_where("Desk", "gone")
            self.query_one("#state", Static).update("this record is not there any more; Escape goes back")
            return
        self._known = known
        self.comments = desk_of(self).drafts.of(known.path, known.row["last_digest"])
        self._show()
        self._check(known)

    # checking

    def _check(self, known: _Known) -> None:
        self._checked = None
        self._say_state()
        self.run_worker(lambda: self._look(known), thread=True, group="desk-check", exclusive=True)

    def _look(self, known: _Known) -> None:
        found = checked(known.path, keys_root(desk_of(self).root) / "known.toml", __version__)
        self._back(lambda: self._looked(found))
        desk = desk_of(self)
        if known.row["state"] == found.state or desk.leaving.is_set():
            return
        index = desk.updating()
        try:
            index.check(known.row["root"], known.row["path"], desk.now())
        except (CommissionError, LookupError, OSError):
            return  # the page says what it found; the index will find it too
        finally:
            index.close()
        desk.begin_anew()

    def _looked(self, found: Checked) -> None:
        if self.is_attached:
            self._checked = found
            self._show()

    # what is shown

    def _show(self) -> None:
        if self._known is None:
            return
        row = self._known.row
        self.say_where(record_title(row), NOT_CHECKED if self._checked is None else self._checked.word)
        self._say_state()
        rows = list(self._rows())
        self.set_lines(rows, self._first())

    def _first(self) -> str:
        """Return the line that was asked for, the first time that lines are shown."""
        about, self._about = self._about, ""
        places = [key for key, said in self._lines.items() if said.about == about] if about else []
        return next(iter(places), "")

    def _say_state(self) -> None:
        if self._known is None:
            return
        told = [answer_sentence(self._known.row)]
        if self._checked is None:
            told.append("not checked yet: its seals are looked at and it is worked out anew …")
        else:
            told += self._checked.lines[:2]
        state = self.query_one("#state", Static)
        state.set_class(self._checked is not None and not self._checked.confirmed, "bold")
        state.update(Content("\n".join(told)))

    def _rows(self) -> Iterator[Row]:
        self._lines = {}
        yield from self._section("Your comments, not sent yet", "own", self._own())
        told = "nothing: all in band, as recommended, nothing to decide"
        if self._known is not None and is_unread(self._known.row):
            told = "nothing can be told of it: the file cannot be read as a record"
        elif self._known is not None and not self._known.row["readings"]:
            told = "nothing was read in this visit, so there is nothing to judge"
        nothing = Said(told)
        yield from self._section("Look at first", "concern", list(self._concerns()) or [nothing])
        yield from self._section("Said when it was answered", "said", self._answers())
        if self._checked is None:
            return
        yield from self._section("What the check says", "check", (Said(text) for text in self._checked.lines))
        for place, section in enumerate(self._checked.sections):
            yield from self._section(section.title.capitalize(), f"all-{place}", section.lines)

    def _section(self, title: str, key: str, lines: Iterable[Said]) -> Iterator[Row]:
        for at, said in enumerate(lines):
            if not at:
                yield heading(title)
            self._lines[f"{key}|{at}"] = said
            mark = "* " if key != "own" and self._comment_at(said.step, said.parts) else ""
            yield plain_row(f"{mark}{said.text}", f"{key}|{at}")

    def _own(self) -> Iterator[Said]:
        for one in self.comments:
            where = step_words(one.step, one.parts) or "the whole record"
            yield Said(f"{where}: {one.text}", "", one.step, one.parts)

    def _concerns(self) -> Iterator[Said]:
        for text in self._known.chain if self._known is not None else ():
            yield Said(f"{'chain':<17} {text}", text)
        for row in self._known.returned if self._known is not None else ():
            when = row["started_text"][:10]
            text = f"the record of {when} was returned, and nobody has answered: {row['says']}"
            yield Said(f"{'returned earlier':<17} {text}", text)
        for row in self._known.concerns if self._known is not None else ():
            text, line, about = f"{row['kind']}: {concern_text(row)}", concern_line(row), row["subject"]
            if row["point"] is None:
                yield Said(line, text, about=about)
            else:
                key = key_of(about)
                yield Said(line, text, key.step, key.parts, about, about)

    def _answers(self) -> Iterator[Said]:
        for row in self._known.said if self._known is not None else ():
            parts = tuple(part for part in row["parts"].split("+") if part)
            where = step_words(row["step"], parts)
            told = f"{row['answer']} by {row['name']}: {f'{where}: ' if where else ''}{row['says']}"
            yield Said(told, "", row["step"], parts)

    def in_full(self) -> str:
        said = self._in_view
        text = "" if said is None else (said.full or said.text)
        comment = None if said is None else self._comment_at(said.step, said.parts)
        if comment is not None and said is not None and said.text.find(comment.text) < 0:
            text = f"your comment: {comment.text}\n{text}"
        return text

    @property
    def _in_view(self) -> Said | None:
        return self._lines.get(self.listed.key)

    # what is pressed

    def action_take(self) -> None:
        said = self._in_view
        if said is not None:
            self.app.push_screen(TextPanel("In full", said.full or said.text))

    def _comment_at(self, step: str, parts: tuple[str, ...]) -> Comment | None:
        if not step:
            return None
        return next((one for one in self.comments if (one.step, one.parts) == (step, parts)), None)

    def action_comment(self) -> None:
        from commission.records.seals import Comment

        said, known = self._in_view, self._known
        if known is None:
            return
        step, parts = (said.step, said.parts) if said is not None else ("", ())
        before = next((one for one in self.comments if (one.step, one.parts) == (step, parts)), None)
        where = f"at {step_words(step, parts)}" if step else "to the whole record"

        def keep(text: str) -> None:
            others = [one for one in self.comments if one is not before]
            made = (*others, Comment(text, step, parts)) if text else tuple(others)
            desk_of(self).drafts.keep(known.path, known.row["last_digest"], made)
            self.comments = made

        def done(answer: str | None) -> None:
            if answer is not None:
                self._show()

        what = f"{where}; it stays kept here until you answer the record"
        panel = LinePanel("Comment", what, value=before.text if before else "", may_be_empty=True, keep=keep)
        self.app.push_screen(panel, done)

    def action_compare(self) -> None:
        from commission.screens.desk_compare import compare_with_before

        if self._known is not None:
            compare_with_before(self, self._record, self._known.row["site"])

    def action_trend(self) -> None:
        from commission.screens.desk_trend import Trends

        if self._known is not None:
            said = self._in_view
            self.app.push_screen(Trends(self._known.row["site"], said.key if said is not None else ""))

    def action_answer(self) -> None:
        from commission.screens.desk_answer import ask_answer

        if self._known is not None:
            earlier = {row["subject"]: row["started_text"][:10] for row in self._known.returned}
            ask_answer(self, self._known.path, self.comments, self._answered_now, earlier)

    def _answered_now(self) -> None:
        """Show the record as it stands after it was answered."""
        known = self._known
        if known is None:
            return
        desk = desk_of(self)
        desk.drafts.keep(known.path, known.row["last_digest"], ())
        self.comments = ()
        self.run_worker(lambda: self._read_anew(known), thread=True, group="desk-check", exclusive=True)

    def _read_anew(self, known: _Known) -> None:
        desk = desk_of(self)
        index = desk.updating()
        root, path = known.row["root"], known.row["path"]
        try:
            index.check(root, path, desk.now())
            self._record = index.ask("record at", root=root, path=path)[0]["record"]
        except (CommissionError, LookupError, OSError) as error:
            text = str(error)
            self._back(lambda: self.cannot(f"answered, but the index is not up to date: {text}"))
        finally:
            index.close()
        desk.begin_anew()
        self._back(self._ask_index)
