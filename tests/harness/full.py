"""Disks that are full, read-only or pulled out under an open visit, which then goes on there or elsewhere."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from commission.errors import NotKeptError, RecordError
from tests.harness.child import forked
from tests.harness.count import Count
from tests.harness.mounts import in_memory, make_image, mounted, run, why_not
from tests.harness.spoiled import writer
from tests.harness.story import Measure, Site, acts, finished, measured, registered

_MOVED = -2
"""What the child tells once the visit goes on in another folder."""


def small_files(folder: Path, rounds: int, *, bad: str = "") -> Count:
    """Let files grow no further than a limit that falls anywhere in the story (``RLIMIT_FSIZE``)."""
    count = Count("files that may grow no further")
    try:
        import resource
    except ImportError:
        count.note = "needs a POSIX system"
        return count
    random = Random(5)
    with registered():
        measure = measured(folder / "measure", acts(5))
        for _ in range(rounds):
            room = random.randrange(measure.ends[0], measure.ends[-1])
            most = resource.RLIM_INFINITY
            limited = partial(resource.setrlimit, resource.RLIMIT_FSIZE, (room, most))
            free = partial(resource.setrlimit, resource.RLIMIT_FSIZE, (most, most))
            with TemporaryDirectory(dir=folder) as name:
                wrong = _played(Site(Path(name), measure.acts), measure, Fault(limited, free), bad)
            count.add(f"room for {room} bytes", wrong)
    return count


def full_disk(folder: Path, rounds: int, *, bad: str = "") -> Count:
    """Fill a small disk with ballast anywhere in the story, then take it away or go on in another folder."""
    count = Count("full disk", note=why_not())
    random = Random(6)
    with registered():
        measure = measured(folder / "measure", acts(5))
        for turn in range(0 if count.note else rounds):
            with TemporaryDirectory(dir=folder) as name, in_memory(Path(name) / "on", kilobytes=400) as on:
                left = 4096 * random.randrange(10, 16)
                ballast = on / "ballast"
                fill = partial(_filled, on, ballast, left)
                elsewhere = Path(name) / "other" if turn % 2 else None
                fault = Fault(fill, ballast.unlink, turn % 8, elsewhere)
                wrong = _played(Site(on, measure.acts), measure, fault, bad)
            count.add(f"{left} bytes left, {'elsewhere' if turn % 2 else 'room made'}", wrong)
    return count


def _filled(on: Path, ballast: Path, left: int) -> None:
    state = os.statvfs(on)
    free = state.f_bavail * state.f_frsize
    ballast.write_bytes(b"x" * max(0, free - left))


def broken_disk(folder: Path, rounds: int) -> Count:
    """Let the disk's file system give up, as the kernel does after errors: from then on it is read-only."""
    count = Count("disk that gives up", note=why_not())
    with registered():
        measure = measured(folder / "measure", acts(5))
        for turn in range(0 if count.note else rounds):
            with TemporaryDirectory(dir=folder) as name, _stick(Path(name)) as on:
                at = turn % (len(measure.acts) - 2)
                abort = partial(run, "mount", "-o", "remount,abort", on)
                fault = Fault(abort, _nothing, at, Path(name) / "other")
                count.add(f"after act {at}", _played(Site(on, measure.acts), measure, fault))
    return count


def pulled_out(folder: Path, rounds: int) -> Count:
    """Pull the stick out under an open visit, and put it back or go on in another folder."""
    count = Count("stick pulled out", note=why_not())
    with registered():
        measure = measured(folder / "measure", acts(5))
        for turn in range(0 if count.note else rounds):
            with TemporaryDirectory(dir=folder) as name, _stick(Path(name)) as on:
                at = turn % (len(measure.acts) - 2)
                elsewhere = Path(name) / "other" if turn % 2 else None
                pull = partial(run, "umount", "--lazy", on)
                put = partial(run, "mount", "-o", "loop", Path(name) / "stick", on)
                fault = Fault(pull, put, at, elsewhere)
                wrong = _played(Site(on, measure.acts), measure, fault)
            count.add(f"after act {at}, {'elsewhere' if elsewhere else 'put back'}", wrong)
    return count


@contextmanager
def _stick(folder: Path) -> Iterator[Path]:
    """Mount a stick that may be pulled out meanwhile."""
    make_image(folder / "stick", megabytes=8)
    with mounted(folder / "stick", folder / "on") as on:
        yield on


def _nothing() -> None:
    """Nothing mends it."""


@dataclass(frozen=True)
class Fault:
    """What befalls the disk."""

    comes: Callable[[], object]
    goes: Callable[[], object]
    after: int = 0
    """Act after which it comes."""
    elsewhere: Path | None = None
    """Folder in which the visit goes on; None where the fault is mended instead."""


def _played(site: Site, measure: Measure, fault: Fault, bad: str = "") -> str:
    """Play with a fault; once an act was refused, mend it or go elsewhere, and go on to the end."""

    def work(tell: Callable[[int], None]) -> None:
        with writer(bad):
            _with_fault(site, fault, tell)

    child = forked(work)
    code = child.ended()
    if code:
        return f"ended with {code} after act {child.told[-1] if child.told else 0}"
    if fault.elsewhere is not None and _MOVED in child.told:
        site = Site(fault.elsewhere, measure.acts)
    wrong = measure.lost_often(site.journal.read_bytes(), b"", len(measure.acts))
    return wrong or finished(site, len(measure.acts))


def _with_fault(site: Site, fault: Fault, tell: Callable[[int], None]) -> None:
    """Every act that is refused is done again once the fault is mended, as a person presses Enter again."""
    site.open()
    refused = False
    for at in range(len(site.acts) + 1):
        if at:
            refused = _done(site, at, fault, tell, refused=refused)
        if at == fault.after:
            fault.comes()
        tell(at)
    if not refused:
        fault.goes()
    site.close()


def _done(site: Site, at: int, fault: Fault, tell: Callable[[int], None], *, refused: bool) -> bool:
    assert site.visit is not None
    try:
        site.acts[at - 1].do(site, site.visit, at)
    except (NotKeptError, RecordError):
        if refused:
            raise
        if fault.elsewhere is not None:
            site.visit.move_to_folder(fault.elsewhere / "visits")
            site.root = fault.elsewhere
            tell(_MOVED)
        fault.goes()
        site.acts[at - 1].do(site, site.visit, at)
        return True
    return refused
