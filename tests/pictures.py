"""Makes the pictures of the README anew: ``python -m tests.pictures``. Look at them before committing."""

from __future__ import annotations

import asyncio
import re
from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from textual.pilot import Pilot
from textual.widgets import Input

from commission.checklist.types import Step
from commission.desk.index import Index
from commission.desk.opening import usual_steps
from commission.desk.practice.fleet import make_fleet
from commission.plant.files import load_plant
from commission.plant.places import sample_sites
from commission.screens.app import CommissionApp
from commission.screens.desk_app import DeskApp
from commission.visit.session import OpenVisit
from tests import technician

PICTURES: Final = Path(__file__).resolve().parent.parent / ".pictures"
SITE: Final = "fennick-homestead"
SIZE: Final = (100, 30)
FLEET: Final = 12
TODAY: Final = date(2026, 11, 28)
STEP: Final = ("run-drop", "run-inverter-1", "positive")
"""Step, part and reading at which the walk is shown."""
_NOT_WANTED: Final = re.compile(r"@font-face\s*\{.*?\}|<!--.*?-->", re.DOTALL)


def _walked_to(root: Path, clock: technician.Clock) -> tuple[OpenVisit, Step]:
    """Return a visit that has everything behind it which comes before the step."""
    path = next(path for path in sample_sites() if path.stem == SITE)
    visit = technician.begin(root, load_plant(path).plant, clock)
    for device in visit.plant.devices:
        visit.left_as_recommended(device.id, clock())
    step = visit.standing.next_step()
    while step is not None and step.key != (STEP[0], (STEP[1],)):
        technician._do(visit, step, clock)
        step = visit.standing.next_step(step.key)
    if step is None:
        raise LookupError(f"the walk of {SITE} has no step {STEP[0]} of {STEP[1]}")
    return visit, step


async def _take(into: Path) -> None:
    clock = technician.Clock()
    with TemporaryDirectory() as folder:
        visit, step = _walked_to(Path(folder), clock)
        app = CommissionApp(root=Path(folder), clock=clock)
        async with app.run_test(size=SIZE) as pilot:
            app.open_visit = visit
            for ask in step.asks:
                if ask.key.step.endswith(STEP[2]):
                    break
                technician._take(visit, ask, clock)
            visit.move_to(step.key, clock())
            app.show("walk")
            await pilot.pause()
            app.screen.query_one("#reading", Input).value = technician.typed(visit, ask, clock()).split()[0]
            await pilot.pause()
            _write(into / "walk.svg", app)
            await pilot.press("f2")
            await pilot.pause()
            _write(into / "why.svg", app)
            await pilot.press("escape", "f5")
            await pilot.pause()
            _write(into / "settings.svg", app)


async def _take_desk(into: Path) -> None:
    """Take the list of sites of a practice fleet, and how the capacity of one of them falls."""
    with TemporaryDirectory() as folder:
        root = Path(folder)
        make_fleet(root / "records", sites=14, years=7, seed=FLEET, today=TODAY, lives=14, processes=2)

        def opening() -> Index:
            return Index(root / "desk.sqlite", [root / "records"], usual_steps)

        with opening() as index:
            index.update()
        at = datetime(TODAY.year, TODAY.month, TODAY.day, tzinfo=UTC)
        app = DeskApp(opening=opening, root=root / "visits", clock=lambda: at)
        async with app.run_test(size=SIZE) as pilot:
            await _rest(app, pilot)
            _write(into / "desk.svg", app, root)
            await pilot.press("enter")
            await _rest(app, pilot)
            await pilot.press("f6")
            await _rest(app, pilot)
            await pilot.press(*"capacity-test.time")
            await _rest(app, pilot)
            _write(into / "trend.svg", app, root)


async def _rest(app: DeskApp, pilot: Pilot[None]) -> None:
    await pilot.pause()
    await app.workers.wait_for_complete()
    await pilot.pause(0.3)


def _write(path: Path, app: CommissionApp, hide: Path | None = None) -> None:
    """Write what the screen shows, without a font that a browser would have to fetch, all spaces kept."""
    drawn = _NOT_WANTED.sub("", app.export_screenshot(title="commission"))
    if hide is not None:
        drawn = drawn.replace(f"{hide}/", "")
    drawn = drawn.replace("Fira Code", "DejaVu Sans Mono").replace("<svg ", '<svg xml:space="preserve" ', 1)
    path.write_text(drawn, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    asyncio.run(_take(PICTURES))
    asyncio.run(_take_desk(PICTURES))
