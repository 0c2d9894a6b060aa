"""A new site file: a small plant with every section explained, to be changed until it is the real one."""

from __future__ import annotations

import json
import os
import re
from contextlib import suppress
from pathlib import Path
from typing import Final

from pydantic import BaseModel, ConfigDict

from commission.errors import SiteError
from commission.plant.explain import problem
from commission.plant.places import data_folder
from commission.plant.toml import validated
from commission.plant.values import Ident, Line

_ID_LINE: Final = re.compile(r'^id = "new-site"$', re.MULTILINE)
_NAME_LINE: Final = re.compile(r'^name = "New site"$', re.MULTILINE)


class _Heading(BaseModel):
    """What a new file is told of its site."""

    model_config = ConfigDict(strict=True)

    id: Ident
    name: Line


def template_path() -> Path:
    """Return the template itself, which loads as it stands."""
    return data_folder("profiles") / "template.toml"


def new_site(path: str | os.PathLike[str], site_id: str, name: str) -> Path:
    """Write a new site file from the template and return its path.

    Parameters
    ----------
    path
        The file to be written; it must not exist.
    site_id
        The site's id: small letters, digits and hyphens.
    name
        What people call the site.

    Raises
    ------
    SiteError
        If the id or the name cannot be used, the file exists already or cannot be written.
    """
    file = Path(path)
    heading = validated(_Heading, {"id": site_id, "name": name}, file.name, "site")
    text = template_path().read_text(encoding="utf-8")
    text = _ID_LINE.sub(lambda _: f"id = {json.dumps(heading.id)}", text, count=1)
    text = _NAME_LINE.sub(lambda _: f"name = {json.dumps(heading.name, ensure_ascii=False)}", text, count=1)
    try:
        _write_new(file, text)
    except FileExistsError:
        wrong, right = "there is such a file already; it was left as it is", "choose another name"
        raise SiteError([problem(str(file), "file", "", wrong, right)]) from None
    except OSError as error:
        wrong = f"cannot be written: {error.strerror}"
        right = "name a folder that exists, on a disk with room"
        raise SiteError([problem(str(file), "file", "", wrong, right)]) from None
    except ValueError:  # the name holds a null character
        raise SiteError([problem(str(file), "file", "", "this is no name of a file", "")]) from None
    return file


def _write_new(file: Path, text: str) -> None:
    """Write a file that was not there before; half of it would be in the way of the next try."""
    opened = file.open("x", encoding="utf-8", newline="\n")
    try:
        with opened:
            opened.write(text)
    except OSError:
        with suppress(OSError):
            file.unlink()
        raise
