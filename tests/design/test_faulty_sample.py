"""The sample that is wrong on purpose: what its header promises is what the check finds."""

from __future__ import annotations

import re

import pytest

from commission.plant.places import data_folder
from tests.design.faults import sound

SITE = "crookhollow-yard"

# number in the header, kind, finding
PROMISED = [
    (1, "correct", "bus-bar:dc-panel"),
    (2, "stop", "cold-voltage:controller-1"),
    (3, "stop", "string-fuse:controller-2"),
    (4, "stop", "main-protection:bank"),
    (5, "stop", "polarised-breaker:breaker-controller-1"),
    (5, "stop", "polarised-breaker:breaker-controller-2"),
    (5, "stop", "device-voltage:breaker-controller-1"),
    (5, "stop", "device-voltage:breaker-controller-2"),
    (5, "stop", "interrupting-rating:breaker-controller-1"),
    (6, "stop", "ampacity:run-inverter-1"),
    (6, "correct", "conductor-protection:run-inverter-1+fuse-inverter-1"),
    (7, "stop", "neutral-bond:generator-1"),
    (8, "not checked", "drop-controller:controller-2"),
    (8, "not checked", "drop-inverter:inverter-1"),
    (8, "not checked", "ventilation:bank"),
    (9, "stop", "interrupting-rating:fuse-inverter-1"),
    (10, "stop", "ac-device-on-dc:breaker-pv-1"),
    (11, "correct", "disconnection:breaker-yard"),
    (12, "correct", "earth-conductor:run-ac-1"),
    (13, "correct", "position-twice:breaker-yard"),
    (13, "advise", "circuit-directory:ac-panel"),
    (14, "correct", "bus-bar:ac-panel"),
    (15, "correct", "emergency-stop:site"),
    (15, "correct", "earth-fault-detection:site"),
]


@pytest.mark.parametrize(("number", "kind", "ident"), PROMISED)
def test_what_the_header_promises_is_found(number: int, kind: str, ident: str) -> None:
    assert sound(SITE)[ident].kind == kind, number


def test_every_number_of_the_header_is_found() -> None:
    text = (data_folder("sample_sites") / f"{SITE}.toml").read_text(encoding="utf-8")
    header = text[: text.index("format = 1")]
    numbers = {int(number) for number in re.findall(r"(?m)^# +(\d+) ", header)}
    assert numbers == {number for number, _, _ in PROMISED}


def test_a_number_beside_a_part_stands_in_the_header() -> None:
    text = (data_folder("sample_sites") / f"{SITE}.toml").read_text(encoding="utf-8")
    body = text[text.index("format = 1") :]
    beside = {int(number) for number in re.findall(r"(?m)# (\d+)(?: and \d+)?:", body)}
    assert beside <= {number for number, _, _ in PROMISED}
    assert len(beside) >= 10
