"""The supervisor's answer: countersign, or return with comments at the steps that they concern."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final, Literal

from textual.screen import Screen

from commission.desk.returns import settled_by, settling
from commission.errors import EntryError
from commission.records.answer import answer_record, check_answer
from commission.records.keys import KeyFile, keys_in, open_key
from commission.records.seals import Comment
from commission.screens.desk_app import desk_of
from commission.screens.forms import Field, FormPanel
from commission.screens.panels import Choice, ChoicePanel
from commission.screens.sign_form import ask_key
from commission.visit.shelf import keys_root

_SIGNER: Final = "technician"
_ALL: Final = "all of them"
Says = Literal["countersigned", "returned"]
_MEANS: Final[dict[Says, str]] = {
    "countersigned": "By your seal you say that you have looked at it and stand for it with the technician.",
    "returned": "The record goes back: it opens at the steps of your comments on the technician's laptop.",
}  # fmt: skip


def ask_answer(
    page: Screen[None],
    path: Path,
    comments: Sequence[Comment],
    done: Callable[[], None],
    earlier: Mapping[str, str],
) -> None:
    """Ask for the answer, the key and its passphrase, and seal the record with it; Escape goes back.

    Parameters
    ----------
    earlier
        Visits of the site that were returned and that nobody has answered, each with its day: countersigning
        this record may settle one of them, in so many words.
    """
    many = f"with your {len(comments)} comment{'s' if len(comments) != 1 else ''}"
    choices = [
        Choice("countersigned", f"countersign   {many if comments else 'without a comment'}"),
        *_settling(earlier),
        Choice("returned", f"return        {many if comments else 'with a word to the whole record'}"),
    ]  # fmt: skip
    keys = _own_keys(page)

    def chosen(answer: str | None) -> None:
        if answer is None:
            return
        visits = earlier if answer == _ALL else [answer] if answer in earlier else []
        settles = [Comment(settling(visit)) for visit in visits]
        says: Says = "returned" if answer == "returned" else "countersigned"
        ask_key(page.app, keys, lambda key: _ask(page, path, says, (*comments, *settles), key, done))

    page.app.push_screen(ChoicePanel("Answer this record", choices), chosen)


def _settling(earlier: Mapping[str, str]) -> Iterator[Choice]:
    """Yield what else a countersign may settle: somebody countersigns a record once."""
    if len(earlier) > 1:
        yield Choice(_ALL, f"countersign   and settle all {len(earlier)} returned records with it")
    for visit, day in earlier.items():
        yield Choice(visit, f"countersign   and settle the returned record of {day} with it")


def _own_keys(page: Screen[None]) -> tuple[KeyFile, ...]:
    """Return the keys on this machine, those of no technician first."""
    found = keys_in(keys_root(desk_of(page).root))
    return tuple(sorted(found, key=lambda key: key.role == _SIGNER))


def _ask(
    page: Screen[None],
    path: Path,
    says: Says,
    comments: Sequence[Comment],
    key: KeyFile | None,
    done: Callable[[], None],
) -> None:
    def keep(typed: dict[str, str]) -> None:
        word = typed["whole"]
        if word and word == typed.get("passphrase"):
            raise EntryError("the passphrase stands as your word to the record too: empty that field")
        said = (*comments, Comment(word)) if word else tuple(comments)
        name, role = (typed.get("name", ""), typed.get("role", "")) if key is None else (key.name, key.role)
        if not name:
            raise EntryError("your name is wanted: who answers?")
        public = b"" if key is None else key.public
        check_answer(path, says, name=name, role=role, comments=said, public=public)
        opened = None if key is None else open_key(key.path, typed["passphrase"])
        answer_record(path, says, name=name, role=role, now=desk_of(page).now(), comments=said, key=opened)

    def answered(answer: str | None) -> None:
        if answer:
            page.app.notify(f"{says}: the seal is written", timeout=6)
            done()

    asked = [
        Field("whole", "to the whole record", hint="may stay empty" if comments or says != "returned" else "")
    ]
    if key is None:
        asked += [Field("role", "in which role", "supervisor"), Field("name", "your name confirms")]
        how = "without a key: a name and a digest only. "
    else:
        asked.append(Field("passphrase", "passphrase of the key", secret=True))
        how = f"with the key of {key.name}\n{key.fingerprint}\n"
    settled = sum(1 for one in comments if settled_by(one.text))
    also = f" It settles {settled} returned record{'s' if settled > 1 else ''}." if settled else ""
    title = "Countersign" if says == "countersigned" else "Return"
    page.app.push_screen(FormPanel(title, f"{path.name}, {how}{_MEANS[says]}{also}", asked, keep), answered)
