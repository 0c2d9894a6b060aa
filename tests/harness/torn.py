"""A journal cut off at every byte, with whatever the disk had behind it."""

from __future__ import annotations

from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from commission.visit.replay import replay
from commission.visit.session import OpenVisit
from tests.harness.count import Count
from tests.harness.story import IDENT, Site, acts, measured, prepare, registered
from tests.visit.walks import HOLDER, after

_OPENED_EVERY = 37


def torn_tails(folder: Path, *, stride: int = 1, bad: bool = False) -> Count:
    """Cut the journal of a story at every byte behind its opening; every 37th is taken up and written on.

    Parameters
    ----------
    bad
        Read as one would who takes every line that there is for whole: the harness must find it out.
    """
    count = Count("torn tails")
    random = Random(3)
    with registered():
        measure = measured(folder / "measure", acts(4))
        whole = measure.journal
        ends = [at + 1 for at, byte in enumerate(whole) if byte == 0x0A]
        untouched = _whole(whole, ends)
        stale = whole[ends[0] : ends[0] + 300]
        for cut in range(ends[0], len(whole) + 1, stride):
            for what, behind in (
                ("nothing", b""),
                ("zeros", b"\0" * 60),
                ("noise", random.randbytes(60)),
                ("what stood there", stale[random.randrange(1, 200) :]),
            ):
                content = whole[:cut] + behind
                # an entry that is whole but for its line end may be kept
                same = cut + _same(behind, whole[cut:])  # it may be the very same that stood there
                lines = {sum(end <= same for end in ends), sum(end - 1 <= same for end in ends)}
                found = replay(content[ends[0] :])  # the opening is whole, and long to read
                kept = content.count(b"\n") if bad else 1 + len(found.events) + len(found.after_damage)
                wrong = "" if kept in lines else f"{kept} entries of {sorted(lines)}"
                if not wrong and bool(found.damage) != (content not in untouched):
                    wrong = f"told as {found.damage}"
                if not wrong and (cut - ends[0]) % _OPENED_EVERY == 0:
                    wrong = _written_on(folder, content, kept)
                count.add(f"cut at {cut}, then {what}", wrong)
    return count


def _same(one: bytes, other: bytes) -> int:
    """Return how many bytes two contents have in common at their beginning."""
    return next(
        (at for at, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other))
    )


def _whole(whole: bytes, ends: list[int]) -> set[bytes]:
    return {whole[:end] for end in ends}


def _written_on(folder: Path, content: bytes, kept: int) -> str:
    """Take a cut journal up and write on; the next time the entry is there and nothing is told."""
    with TemporaryDirectory(dir=folder) as name:
        site = Site(Path(name), ())
        site.journal.parent.mkdir(parents=True)
        site.journal.write_bytes(content)
        with OpenVisit.resume(site.visits, IDENT, prepare, holder=HOLDER) as visit:
            if visit.visit.sign_off is None:
                visit.note(("warm", ()), "written on", after(99))
                kept += 1
        again = replay(site.journal.read_bytes())
        return (
            ""
            if len(again.events) == kept and not again.damage
            else f"then {len(again.events)}, {again.damage}"
        )
