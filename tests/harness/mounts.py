"""File systems of our own for a while: an image mounted by loop, a small one in memory."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory


class CannotMountError(Exception):
    """This machine lets nobody mount; the text says why."""


@cache
def why_not() -> str:
    """Return why nothing can be mounted here, empty where it can."""
    if sys.platform != "linux":
        return "needs Linux"
    if os.geteuid() != 0:
        return "needs root"
    missing = [tool for tool in ("mount", "umount", "mkfs.ext4") if shutil.which(tool) is None]
    if missing:
        return f"needs {', '.join(missing)}"
    try:
        with TemporaryDirectory() as name:
            image = Path(name) / "image"
            make_image(image, megabytes=4)
            with mounted(image, Path(name) / "on"):
                return ""
    except CannotMountError as error:
        return str(error)


def run(*words: str | Path) -> None:
    """Run a tool of the system.

    Raises
    ------
    CannotMountError
        If it fails.
    """
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True, check=False)
    if done.returncode:
        raise CannotMountError(f"{words[0]}: {done.stderr.strip()}")


def make_image(image: Path, *, megabytes: int) -> None:
    """Make a file that holds an ext4 file system."""
    with image.open("wb") as file:
        file.truncate(megabytes << 20)
    run("mkfs.ext4", "-q", "-F", "-m", "0", image)


@contextmanager
def mounted(image: Path, on: Path) -> Iterator[Path]:
    """Mount an image by loop."""
    on.mkdir(exist_ok=True)
    run("mount", "-o", "loop", image, on)
    try:
        yield on
    finally:
        run("umount", on)


@contextmanager
def in_memory(on: Path, *, kilobytes: int) -> Iterator[Path]:
    """Mount a small file system in memory."""
    on.mkdir(exist_ok=True)
    run("mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", on)
    try:
        yield on
    finally:
        run("umount", on)
