"""What tests ask of a band."""

from __future__ import annotations

from commission.checklist.types import Expectation, Expected, NotJudged, Waits


def edges(outcome: Expectation | None) -> tuple[float | None, float | None]:
    """Return the limits of a band."""
    assert isinstance(outcome, Expected), outcome
    low, high = outcome.band.low, outcome.band.high
    return (None if low is None else low.value), (None if high is None else high.value)


def stops(outcome: Expectation | None) -> tuple[float | None, float | None]:
    """Return where work stops."""
    assert isinstance(outcome, Expected), outcome
    below, above = outcome.band.stop_below, outcome.band.stop_above
    return (None if below is None else below.value), (None if above is None else above.value)


def nominal(outcome: Expectation | None) -> float:
    """Return the middle of a band."""
    assert isinstance(outcome, Expected), outcome
    assert outcome.band.nominal is not None
    return outcome.band.nominal.value


def judged_value(outcome: Expectation | None) -> float:
    """Return what is judged in place of the reading."""
    assert isinstance(outcome, Expected), outcome
    assert outcome.compared is not None
    return outcome.compared.value


def is_inside(outcome: Expectation | None, value: float | None = None) -> bool:
    """Say whether a value, or what is judged in place of the reading, lies within the band."""
    low, high = edges(outcome)
    judged = judged_value(outcome) if value is None else value
    # exactly on a limit counts as inside; the digits of readings end long before the ninth
    return (low is None or judged >= low - 1e-9) and (high is None or judged <= high + 1e-9)


def is_stopped(outcome: Expectation | None, value: float) -> bool:
    """Say whether a value stops work."""
    below, above = stops(outcome)
    return (below is not None and value <= below) or (above is not None and value >= above)


def waited_for(outcome: Expectation | None) -> list[str]:
    """Return the keys that are waited for, as text."""
    assert isinstance(outcome, Waits), outcome
    return [str(key) for key in outcome.keys]


def refusal(outcome: Expectation | None) -> str:
    """Return why a reading is not judged."""
    assert isinstance(outcome, NotJudged), outcome
    return outcome.why
