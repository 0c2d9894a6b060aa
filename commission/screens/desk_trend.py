"""The trend of any reading at a site: a chart, its limits, and in a sentence when they are reached."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import OptionList, Static

from commission.desk.names import load, words_of
from commission.desk.outlook import outlook_lines
from commission.desk.trend_text import CHART_SIGNS, drawn, points_lines, said_lines
from commission.screens.desk_app import desk_of
from commission.screens.desk_page import Lines
from commission.screens.panels import TextPanel
from commission.screens.rows import Row, plain_row

if TYPE_CHECKING:
    from commission.desk.index import Index
    from commission.desk.series import Limit, Trend
    from commission.desk.site_visits import SiteVisits


class Trends(Lines):
    """Choose a reading by typing and see how it went over the years."""

    help_text = (
        "How a reading went over all visits of this site. What ages comes first; the number says\n"
        "how often it was read.\n\n"
        "  type          readings with these words: ohmic, capacity, joint …\n"
        "  Up, Down      the next reading\n"
        "  Enter         every point, and what was left out and why\n\n"
        f"On the chart: {CHART_SIGNS}\n"
        "Limits are dashed.\n\n"
        "The slope is that of Theil and Sen with its interval, corrected for temperature where\n"
        "physics says so. With fewer points than that needs nothing is claimed. A date says when\n"
        "the limit is reached if it goes on like this; plants do not always go on like this.\n"
        "Of what age does not bring to a limit, such as the day's temperature, no date is told."
    )

    takes = "points"
    finds = "words of a reading"

    def __init__(self, site: str, at: str = "") -> None:
        """Make the page; ``at`` is the key of the reading that is shown first."""
        super().__init__()
        self._site, self._at = site, at
        self._visits: SiteVisits | None = None
        self._trend: tuple[str, Trend, tuple[Limit, ...]] | None = None

    def body(self) -> ComposeResult:
        yield from self.entry_line()
        yield from self.list_and_none()
        with Vertical():
            yield Static("", id="chart", markup=False)
            yield Static("the records of this site are read …", id="says", markup=False)

    def on_mount(self) -> None:
        self.say_where(f"Trend  {self._site}")
        site = self._site

        def work(index: Index) -> tuple[list[dict[str, Any]], list[Any], str]:
            points = index.ask("points of site", site=site)
            load()
            paths = [index.file_of(row) for row in index.ask("records of site", site=site)
                     if row["state"] not in {"changed", "malformed"}]  # fmt: skip
            name = next((row["name"] for row in index.ask("site", site=site)), site)
            return points, paths, name

        self.ask(work, self._listed)

    def _listed(self, found: tuple[list[dict[str, Any]], list[Any], str]) -> None:
        points, paths, name = found
        self.say_where(f"Trend  {name}", f"{len(points)} readings")
        self.set_lines(self._rows(points), self._at)
        self.run_worker(lambda: self._read(paths), thread=True, group="desk-trend", exclusive=True)

    def _rows(self, points: list[dict[str, Any]]) -> list[Row]:
        from commission.desk.watch import ageing_first

        rows: dict[str, Row] = {}
        for one in ageing_first(points):
            words = words_of(one["name"])
            unit = "" if one["unit"] in {"", "1"} else f", {one['unit']}"
            told = f"{one['readings']:>3}  {words}{unit}"
            told += f"  ({one['name']})" if words != one["name"] else ""
            rows.setdefault(one["name"], plain_row(told, one["name"]))
        return list(rows.values())

    def _read(self, paths: list[Any]) -> None:
        from commission.desk.site_visits import visits_in

        found = visits_in(paths)
        self._back(lambda: self._have(found))

    def _have(self, found: SiteVisits) -> None:
        if self.is_attached:
            self._visits = found
            self._draw()

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._draw()

    def on_resize(self, event: events.Resize) -> None:
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        from commission.desk.history import limits_of, trend_of
        from commission.desk.site_visits import key_of

        name = self.listed.key
        if self._visits is None:
            return
        if not name:
            self._trend = None
            for place in ("#chart", "#says"):
                self.query_one(place, Static).update("")
            return
        if self._trend is None or self._trend[0] != name:
            key = key_of(name)
            visits = self._visits.visits
            self._trend = name, trend_of(visits, key), limits_of(visits, key)
        found = self._trend[1]
        said = [*outlook_lines(found, desk_of(self).now()), *found.remarks]
        if found.left_out:
            said.append(f"{len(found.left_out)} left out; Enter says why")
        said += self._visits.passed_over[:1]
        self.query_one("#says", Static).update(Content("\n".join(one for one in said if one)))
        self.call_after_refresh(self._draw_chart)  # what is said below takes its lines first

    def _draw_chart(self) -> None:
        if self._trend is None or not self.is_attached:
            return
        _, found, limits = self._trend
        place = self.query_one("#chart", Static)
        chart = drawn(found, limits, width=max(30, place.size.width - 2), height=max(6, place.size.height))
        place.update(Content(chart))

    def action_take(self) -> None:
        if self._trend is not None:
            name, found, _ = self._trend
            lines = [*said_lines(found, desk_of(self).now()), "", *points_lines(found)]
            self.app.push_screen(TextPanel(words_of(name), "\n".join(lines)))
