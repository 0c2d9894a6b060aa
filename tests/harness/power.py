"""Pulling the plug: the image of a mounted disk is copied at random moments while the program writes.

What the program has written and not flushed is not in the image, as it would not be on a disk.
"""

from __future__ import annotations

import os
import shutil
import signal
import time
from functools import partial
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from tests.harness.child import Child, playing
from tests.harness.count import Count
from tests.harness.mounts import make_image, mounted, why_not
from tests.harness.spoiled import writer
from tests.harness.story import Measure, Site, acts, finished, measured, registered


def power_cut(folder: Path, rounds: int, *, seed: int = 1, bad: str = "") -> Count:
    """Copy the image at random moments of many stories; take each copy up and go on to the end."""
    count = Count("power cut", note=why_not())
    random = Random(seed)
    with registered():
        measures = [
            measured(folder / f"measure-{readings}", acts(readings, seed)) for readings in (2, 14, 50)
        ]
        while not count.note and count.rounds < rounds and not (bad and count.wrong):
            _one_story(folder, random.choice(measures), random, bad, count)
    return count


def _one_story(folder: Path, measure: Measure, random: Random, bad: str, count: Count) -> None:
    with TemporaryDirectory(dir=folder) as name:
        image = Path(name) / "disk"
        make_image(image, megabytes=24)
        with mounted(image, Path(name) / "on") as on:
            child = playing(Site(on, measure.acts), partial(writer, bad))
            child.first()
            for _ in range(8):
                time.sleep(random.uniform(0.0, 0.012))
                told = _copied(child, image, Path(name) / "copy")
                if told >= len(measure.acts):
                    count.ran_out += 1
                count.add(f"after act {told}", _looked_at(Path(name), measure, told))
                if told >= len(measure.acts):
                    break
            child.send(signal.SIGKILL)
            child.ended()


def _copied(child: Child, image: Path, copy: Path) -> int:
    """Stop the child, hear what it has told, copy the image as it is, let it go on."""
    child.send(signal.SIGSTOP)
    os.waitid(os.P_PID, child.pid, os.WSTOPPED | os.WEXITED | os.WNOWAIT)
    told = child.heard()
    shutil.copyfile(image, copy)
    child.send(signal.SIGCONT)
    return told


def _looked_at(folder: Path, measure: Measure, told: int) -> str:
    with mounted(folder / "copy", folder / "after") as on:
        site = Site(on, measure.acts)
        try:
            content = site.journal.read_bytes() if site.journal.is_file() else b""
            return measure.lost(content, told) or _record_lost(site, told) or finished(site, told)
        except Exception as error:
            return f"cannot be taken up: {type(error).__name__}: {error}"


def _record_lost(site: Site, told: int) -> str:
    """A record that was told as written is there."""
    written = [
        at for at, act in enumerate(site.acts, start=1) if act.name in {"export", "answer"} and at <= told
    ]
    return "the record is gone" if written and not list(site.records.glob("test-site*.toml")) else ""
