"""Recall: every site that has a battery profile, a firmware, a device, a setting, an instrument."""

from __future__ import annotations

from typing import Any, Final

from textual.app import App

from commission.desk.names import held_words
from commission.screens.desk_page import Lines
from commission.screens.panels import Choice, ChoicePanel
from commission.screens.rows import plain_row

KINDS: Final = {
    "battery profile": "a battery profile",
    "device": "a class of device",
    "firmware": "a firmware version of a class of device",
    "setting": "a setting left at a value",
    "instrument": "an instrument that was used there",
}
_MOST: Final = 2000


def ask_kind(app: App[None]) -> None:
    """Ask what the sites have in common, and list what there is."""

    def chosen(kind: str | None) -> None:
        if kind is not None:
            app.push_screen(Held(kind))

    choices = [Choice(kind, text) for kind, text in KINDS.items()]
    app.push_screen(ChoicePanel("Recall all sites that have", choices), chosen)


class Held(Lines):
    """Choose what the sites have, the most common first."""

    help_text = (
        "What the sites have now, each with how many have it.\n\n"
        "  type          only lines with these words: a name, a version, a number\n"
        "  Enter         the sites that have it\n\n"
        "It is told by the newest record of each site that tells it: a setting as it was left last,\n"
        "a firmware as it was read last."
    )

    def __init__(self, kind: str) -> None:
        super().__init__()
        self._kind = kind
        self.finds = f"words of a {kind}"
        self._found: dict[str, dict[str, Any]] = {}

    def on_mount(self) -> None:
        self.say_where(f"Recall  {self._kind}")
        self.ask(lambda index: index.ask("held", kind=self._kind, limit=_MOST), self._show)

    def _show(self, rows: list[dict[str, Any]]) -> None:
        self.say_where(f"Recall  {self._kind}", f"{len(rows):,} different")
        self._found = {f"{at}": row for at, row in enumerate(rows)}
        lines = [
            plain_row(f"{held_words(row):<50}  {_many(row['sites'])}", f"{at}") for at, row in enumerate(rows)
        ]
        self.set_lines(lines or [plain_row("no record tells any", "")])

    def action_take(self) -> None:
        found = self._found.get(self.listed.key)
        if found is not None:
            self.app.push_screen(Having(self._kind, found))


class Having(Lines):
    """See every site that has it, and open one."""

    help_text = (
        "Every site that has what was chosen, with the part that has it.\n\n"
        "  type          only lines with these words\n"
        "  Enter         open the site in view"
    )

    finds = "words of a site or part"

    def __init__(self, kind: str, held: dict[str, Any]) -> None:
        """Make the page of what a row of the query ``held`` names."""
        super().__init__()
        self._told = f"Recall  {held_words(held)}"
        self._wanted = {"kind": kind} | {name: held[name] for name in ("name", "value", "unit")}

    def on_mount(self) -> None:
        told = self._told
        self.say_where(told)

        def show(rows: list[dict[str, Any]]) -> None:
            sites = len({row["site"] for row in rows})
            self.say_where(told, _many(sites) if len(rows) < _MOST else f"the first {_many(sites)}")
            self.set_lines(
                [plain_row(f"{row['site_name'] or row['site']:<30}  {row['part']}  {row['place']}".rstrip(),
                           f"{row['site']}|{at}") for at, row in enumerate(rows)]
            )  # fmt: skip

        self.ask(lambda index: index.ask("recall", **self._wanted, limit=_MOST), show)

    def action_take(self) -> None:
        from commission.screens.desk_site import Site

        site = self.listed.key.partition("|")[0]
        if site:
            self.app.push_screen(Site(site))


def _many(sites: int) -> str:
    return f"{sites:,} site{'s' if sites != 1 else ''}"
