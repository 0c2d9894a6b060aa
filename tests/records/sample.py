"""A small visit of a small plant, signed: what the tests of records look at."""

from __future__ import annotations

from pathlib import Path

from commission.figure import given as figure
from commission.sheet.types import Finding
from commission.visit.digest import confirmation_words
from commission.visit.types import Visit
from tests.visit.walks import after, begun, reading, setting, sheet, step, walk

FINDING = Finding(
    "stop",
    "no-protection",
    ("bank",),
    "no protection at the bank",
    "fit a fuse of 125 A",
    value=figure(0.0, "A", "rating at the bank"),
    limit=figure(125.0, "A", "current of the run", source="common practice"),
    passes=figure(125.0, "A", "fuse"),
)
SHEET = sheet(setting(), setting("float_voltage", 54.2), findings=(FINDING,))


def signed(root: Path) -> Visit:
    """Return a small visit, signed."""
    steps = walk(
        step("volts", reading(expect="between 54.2 and 54.6")), step("seen", reading(kind="yes or no"))
    )
    with begun(root, steps, SHEET) as visit:
        first, second = (item.asks[0] for item in steps.steps)
        visit.take(first, "54.40", measured_at=after(1), now=after(2), instrument="meter-1")
        visit.take(second, "yes", measured_at=after(3), now=after(3))
        visit.note(("volts", ()), "lid\ncracked", after(3))
        visit.set_found("inverter-1", "absorption_voltage", "58.4", after(4))
        visit.left_as_recommended("inverter-1", after(4))
        visit.set_left("inverter-1", "float_voltage", "54.0", after(4), reason="owner's wish")
        visit.identify("inverter-1", after(5), serial="SN-1", firmware="2.1")
        words = confirmation_words(visit.plant, FINDING.id)
        visit.dispose(FINDING.id, "accepted", reason="seen", by="Elin Corse", words=words, now=after(6))
        return visit.sign_off("Runa Feld", "complete", after(9))
