"""Visits drawn by chance, with every odd text and number that a record has to hold."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from typing import Any

from hypothesis import strategies as st

from commission.visit.types import (
    Accuracy,
    DeviceIdentity,
    Disposed,
    Drift,
    EarlierReading,
    Instrument,
    Judgement,
    Named,
    NotApplicable,
    Note,
    Person,
    Reading,
    Release,
    Service,
    SettingEntry,
    SignOff,
    Used,
    Visit,
)

_TURNS = "\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
_CONTROL: dict[str, Any] = {"blacklist_categories": ["Cs", "Cc"], "blacklist_characters": _TURNS}
LINES = st.one_of(
    st.text(st.characters(**_CONTROL), max_size=40),
    st.sampled_from(
        ['"""', "'''", "\\", '"', "#", "[[seal]]", 'digest = "sha256:', "ﬀ é e\u0301 \u200f \ufeff", "😂"]
    ),
)
TEXTS = st.lists(LINES, max_size=3).map("\n".join) | st.sampled_from(["a\tb\n", "\n[[seal]]\n", "\n\n"])
FLOATS = st.floats(allow_nan=False, allow_infinity=False) | st.sampled_from([0.1, -0.0, 5e-324, 1e-7, 54.0])
SHOWN = st.floats(allow_nan=False)
IDENTS = st.from_regex(r"[a-z0-9]{1,8}(-[a-z0-9]{1,6}){0,2}", fullmatch=True)
ZONES = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
TIMES = st.datetimes(min_value=datetime(2000, 1, 1), max_value=datetime(2100, 1, 1), timezones=ZONES)  # noqa: DTZ001 - the zone is drawn beside it
PARTS = st.lists(IDENTS, max_size=3).map(tuple)
ONE_SIDED = st.sampled_from(["above", "below"])
SIDES = st.just("exact") | ONE_SIDED
VERDICTS = st.sampled_from(
    ["pass", "conditional pass", "conditional fail", "fail", "stop work", "not judged", "recorded"]
)


def _built(model: type, /, **fields: Any) -> st.SearchStrategy:
    return st.builds(model, **fields)


def _maybe(strategy: st.SearchStrategy) -> st.SearchStrategy:
    return st.none() | strategy


def _several(strategy: st.SearchStrategy, most: int = 2) -> st.SearchStrategy:
    return st.lists(strategy, max_size=most).map(tuple)


KEYS = {"step": LINES, "parts": PARTS, "index": st.integers(0, 500)}
JUDGEMENTS = _built(
    Judgement,
    verdict=VERDICTS,
    low=_maybe(FLOATS),
    nominal=_maybe(FLOATS),
    high=_maybe(FLOATS),
    unit=LINES,
    stop_above=_maybe(FLOATS),
    uncertainty=_maybe(FLOATS),
    margin=_maybe(FLOATS),
    says=LINES,
    used=_several(_built(Used, value=SHOWN.filter(lambda value: abs(value) < 1e300), unit=LINES,
                         measured_at=TIMES, **KEYS)),
    waits=_several(_built(Named, **KEYS)),
    why=_several(LINES),
    drifts=_several(
        _built(
            Drift, since=st.sampled_from(["baseline", "last"]), visit=IDENTS, measured_at=TIMES,
            before=SHOWN, now=SHOWN, change=FLOATS, unit=LINES, low=_maybe(FLOATS), high=_maybe(FLOATS),
            before_side=_maybe(ONE_SIDED), now_side=_maybe(ONE_SIDED), compared_as=_maybe(LINES),
            compared_unit=_maybe(LINES),
            verdict=st.sampled_from(["holds", "advise", "act", "not judged", "not compared"]), says=LINES,
        )
    ),
)  # fmt: skip
_VALUES = st.one_of(
    st.tuples(st.just("number"), SHOWN),
    st.tuples(st.just("yes or no"), st.booleans()),
    st.tuples(st.just("text"), LINES),
    st.tuples(st.just("choice"), LINES),
)
READINGS = _VALUES.flatmap(
    lambda drawn: _built(
        Reading,
        kind=st.just(drawn[0]),
        value=st.just(drawn[1]),
        text=LINES,
        unit=LINES,
        side=SIDES,
        measured_at=TIMES,
        entered_at=TIMES,
        instrument=_maybe(IDENTS),
        read_by=LINES,
        corrects=st.booleans(),
        reason=LINES,
        judgement=_maybe(JUDGEMENTS),
        **KEYS,
    )
)
STEPS = {"step": LINES, "parts": PARTS}
VISITS = _built(
    Visit,
    id=IDENTS,
    site=st.just("test-site"),
    kind=st.sampled_from(["commissioning", "service"]),
    started_at=TIMES,
    program=LINES,
    people=_several(
        _built(Person, name=LINES, role=st.sampled_from(["technician", "witness"]), licence=LINES)
    ),
    instruments=_several(
        _built(
            Instrument,
            id=IDENTS,
            kind=st.sampled_from(["dc voltmeter", "timer"]),
            name=LINES,
            ranges=_several(_built(Accuracy, unit=LINES, up_to=FLOATS, resolution=st.just(0.01))),
        )
    ),
    readings=_several(READINGS, 4),
    settings=_several(
        _built(
            SettingEntry,
            device=IDENTS,
            setting=LINES,
            input=st.sampled_from([None, "generator", "utility"]),
            found=_maybe(FLOATS | LINES),
            left=_maybe(FLOATS | LINES),
            left_text=LINES,
            at=TIMES,
        )
    ),
    devices=_several(_built(DeviceIdentity, part=IDENTS, serial=LINES, at=TIMES)),
    notes=_several(_built(Note, text=TEXTS, at=TIMES, **STEPS)),
    not_applicable=_several(_built(NotApplicable, reason=LINES, at=TIMES, withdrawn=st.booleans(), **STEPS)),
    releases=_several(_built(Release, by=LINES, role=st.just("supervisor"), at=TIMES, **STEPS)),
    dispositions=_several(
        _built(
            Disposed,
            subject=LINES,
            disposition=st.sampled_from(["mended", "accepted"]),
            reason=LINES,
            by=LINES,
            at=TIMES,
        )
    ),
    service=_maybe(
        _built(
            Service,
            due=_several(st.sampled_from(["quarterly", "yearly", "every visit"])),
            event=LINES,
            parts=PARTS,
            changed=PARTS,
            previous_visit=IDENTS,
            previous_digest=LINES,
            previous_at=TIMES,
            earlier=_several(
                _built(
                    EarlierReading,
                    visit=IDENTS,
                    baseline=st.booleans(),
                    value=SHOWN,
                    side=SIDES,
                    unit=LINES,
                    measured_at=TIMES,
                    verdict=_maybe(VERDICTS),
                    instrument=LINES,
                    temperature=_maybe(FLOATS),
                    compared=_maybe(FLOATS),
                    provisional=st.booleans(),
                    **KEYS,
                )
            ),
            left=_several(_built(SettingEntry, device=IDENTS, setting=LINES, left=FLOATS | LINES, at=TIMES)),
        )
    ),
    spares=LINES,
    codes_kept=LINES,
    next_technician=TEXTS,
    at_step=LINES,
    at_parts=PARTS,
    sign_off=_maybe(_built(SignOff, name=LINES, role=LINES, signed_as=st.just("complete"), at=TIMES)),
)
