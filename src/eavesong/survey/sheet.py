"""The sheet: one HTML file in which points of a photo are clicked and named; it needs no network.

The page's own code stands in ``sheet_files``; here the photo is put in, without what it says of place and owner.
"""

from __future__ import annotations

import base64
import io
import json
from html import escape
from pathlib import Path
from typing import Any

from eavesong.files import write_whole
from eavesong.survey.photo import opened

FILES = Path(__file__).parent / "sheet_files"
SCRIPTS = ("state.js", "things.js", "text.js", "draw.js", "hands.js", "main.js")
WIDEST = 4096
"""Picture elements of the photo's longer side in the page; places are told in those of the photo itself."""
QUALITY = 88


def write_sheet(photo: str | Path, path: str | Path) -> None:
    """Write to ``path`` the page that points at ``photo``; SurveyError where the photo cannot be read."""
    photo = Path(photo)
    picture, scale = _picture(photo)
    about = {
        "title": photo.stem.replace("-", " ").replace("_", " ") or "House",
        "file": photo.name,
        "saved": f"{photo.stem}.survey.toml",
        "scale": scale,
    }
    parts = {
        "title": escape(str(about["title"])),
        "style": (FILES / "sheet.css").read_text("utf-8"),
        "picture": base64.b64encode(picture).decode("ascii"),
        "about": _json(about),
        "script": _script(),
    }
    write_whole(path, _filled((FILES / "sheet.html").read_text("utf-8"), parts))


def _script() -> str:
    code = "\n".join((FILES / name).read_text("utf-8") for name in SCRIPTS)
    return f'(() => {{\n"use strict";\n{code}}})();\n'


def _json(tables: dict[str, Any]) -> str:
    """JSON that can stand in a script element."""
    return json.dumps(tables).replace("<", "\\u003c")


def _filled(template: str, parts: dict[str, str]) -> str:
    """The template with ``{{name}}`` replaced; what is put in is not looked into again."""
    out = []
    while (begin := template.find("{{")) >= 0:
        end = template.index("}}", begin)
        out += [template[:begin], parts[template[begin + 2 : end]]]
        template = template[end + 2 :]
    return "".join([*out, template])


def _picture(photo: Path) -> tuple[bytes, float]:
    """The photo upright as a JPEG, and how many of its picture elements one of those is."""
    from PIL import ImageOps

    with opened(photo) as picture:
        upright = ImageOps.exif_transpose(picture).convert("RGB")
    width = upright.width
    upright.thumbnail((WIDEST, WIDEST))
    out = io.BytesIO()
    upright.save(out, "JPEG", quality=QUALITY)
    return out.getvalue(), width / upright.width
