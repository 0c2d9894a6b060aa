"""Sites put together: by technician, chemistry, device class, instrument."""

from __future__ import annotations

from typing import Any, ClassVar, Final

from textual.binding import Binding, BindingType

from commission.desk.lines import group_sentence
from commission.desk.listing import Wanted
from commission.screens.desk_page import Lines
from commission.screens.rows import plain_row

_PEOPLE: Final = "technician"


class Groups(Lines):
    """See which group stands out, and open its sites."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f5", "records", "records", id="records", tooltip="Records of the technician in view"),
    ]
    help_text = (
        "Sites put together. The group with the largest share of readings out of band stands first.\n\n"
        "  type          only groups with these words\n"
        "  Enter         the sites of the group in view\n"
        "  F5            of technicians: their records, newest first\n\n"
        "A large share says where to look first, not who is at fault: hard sites have more to find."
    )

    def __init__(self, dimension: str) -> None:
        super().__init__()
        self._dimension = dimension
        self.finds = f"words of a {dimension}"
        self._labels: dict[str, str] = {}

    def on_mount(self) -> None:
        self.say_where(f"Desk  by {self._dimension}")
        self.ask(lambda index: index.ask("tally", dimension=self._dimension, limit=2000), self._show)

    def _show(self, rows: list[dict[str, Any]]) -> None:
        self.say_where(f"Desk  by {self._dimension}", f"{len(rows):,} groups")
        self._labels = {row["name"]: row["label"] or row["name"] for row in rows}
        wide = min(30, max((len(label) for label in self._labels.values()), default=0))
        self.set_lines(
            [
                plain_row(f"{self._labels[row['name']][:wide]:<{wide}}  {group_sentence(row)}", row["name"])
                for row in rows
            ]
        )

    def action_take(self) -> None:
        from commission.screens.desk_sites import Sites

        name = self.listed.key
        if name:
            wanted = Wanted(dimension=self._dimension, member=name)
            self.app.push_screen(Sites(wanted, f"{self._dimension}: {self._labels[name]}"))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer the records of people only."""
        return action != "records" or self._dimension == _PEOPLE

    def action_records(self) -> None:
        from commission.desk.worklists import of_technician
        from commission.screens.desk_lists import Listed

        name = self.listed.key
        if name:
            self.app.push_screen(Listed(of_technician(name, self._labels[name])))
