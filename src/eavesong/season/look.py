"""What is said of a song's frames, and the page that plays them: both made once for each content, from the frames file.

What was said is kept in the cache; a page bears at its end what it was made of, so that nothing is made twice.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote, unquote

from eavesong.errors import OutputError, Problem, SurveyError
from eavesong.files import content_hash, tell_no_cache, user_cache, whole_file, write_whole
from eavesong.season.remarks import ANOTHER_SONG, BEFORE, Remark, of_check, of_limits, read_remark, shown
from eavesong.season.said import mark_of
from eavesong.sources import fingerprint
from eavesong.words import visible

if TYPE_CHECKING:
    from eavesong.frames import FramesFile
    from eavesong.layout import Layout
    from eavesong.limits import Limits
    from eavesong.season.plan import Task
    from eavesong.season.said import Said

Tell = Callable[[str, int, int], None]

MARK = b"\n<!-- eavesong page "
"""What stands before the mark at the end of a page."""
BY = b"\n<!-- of the setlist "
"""What stands before the end of a page's setlist, above its mark."""
LENGTH = 64
"""Of the mark: SHA-256 in hex."""
LONGEST_END = 1000
"""Bytes at the end of a page within which the setlist and the mark stand."""


def kept_look(told: Said, task: Task, layout: Layout) -> tuple[Remark, ...] | None:
    """What was said of a task's frames, which say this; None where they have not been looked at, or want a page."""
    mark = _mark(told.hashes, told.order, task, layout)
    if task.page and _mark_of(Path(task.page)) != _page_mark(told.hashes, told.order, task, layout):
        return None
    try:
        return tuple(map(read_remark, json.loads(_kept_at(mark).read_text(encoding="utf-8"))))
    except (OSError, ValueError, TypeError):
        return None


def look(task: Task, layout: Layout, tell: Tell) -> tuple[Remark, ...]:
    """Look at a task's frames: what is to be said of them, and their page where one is wanted.

    A page that cannot be written is a remark, and tried again the next time. Raises FramesError for frames that cannot
    be read, OutputError where a page would take the place of what no batch wrote.
    """
    from eavesong.frames import open_frames
    from eavesong.limits import limits
    from eavesong.season.said import noted

    before = mark_of(task.out)
    with open_frames(task.out) as file:
        noted(file, before, sound=True)  # written just now, or held against its checksums before
        mark, paged = (each(file.hashes, file.text("order"), task, layout) for each in (_mark, _page_mark))
        tell("checking", 0, 0)
        report = limits(layout, file) if task.page or task.findings == "limits" else None
        notes = tuple(_notes(file, layout, task, report))
        _keep(mark, notes)
        if task.page and _mark_of(Path(task.page)) != paged:
            tell("its page", 0, 0)
            _refuse_own(Path(task.page), task.overwrite)
            try:
                _write_page(file, task, layout, report, paged)
            except OutputError as fault:
                first = fault.problems[0]
                found = f"its frames are whole, and its page '{Path(task.page).name}' {first.found}. {first.instead}"
                notes = (*notes, Remark(True, found.strip(), "page"))
    return notes


def photo_of(task: Task, layout: Layout) -> Path | None:
    """The photo that a task's layout names, for its page; None where it names none, or there is none that can be
    read."""
    photo = Path(task.layout).parent / layout.photo
    return photo if layout.photo and os.access(photo, os.R_OK) and photo.is_file() else None


def _notes(file: FramesFile, layout: Layout, task: Task, report: Limits | None) -> Iterator[Remark]:
    """What ``check`` and ``limits`` say, as far as it is wanted; of flashes in any case."""
    from eavesong.check import check
    from eavesong.limits import flash_findings, supply_findings
    from eavesong.scene import Reopened

    if task.page and layout.photo and (why := _no_photo(photo_of(task, layout))):
        without = f"the photo '{layout.photo}' of {shown(task.layout)} {why}, and its pages are without it"
        yield Remark(True, f"{without}. Put it there, or take 'photo' out of the layout.", "photo")
    source = Reopened(file)
    scene = source.scene
    if task.findings == "none":
        return
    if BEFORE in file.hashes:
        yield ANOTHER_SONG
    if task.foreign is not None:
        yield task.foreign
    if scene is not None and scene.show is not None and not scene.terms.props:
        whole = scene.terms.start is None and scene.terms.stop is None
        checked = check(scene, frames=file.frames if whole else None, together=file.chunk_frames,
                        part=file.frames, palettes=task.palettes, idle=task.idle)  # fmt: skip
        for problem, weight in zip(checked.findings, checked.weights, strict=True):
            yield of_check(problem, weight, layout)
    if report is not None and task.findings == "limits":
        found = report.findings
    else:
        found = (*supply_findings(layout, file), *flash_findings(layout, file))
    yield from (of_limits(finding, layout) for finding in found)


def _refuse_own(page: Path, overwrite: bool) -> None:
    """Raise OutputError where a page is there that no batch wrote."""
    if page.is_file() and not overwrite and _mark_of(page) is None:
        found = "is no page that a batch wrote"
        raise OutputError(Problem(str(page), "", found, "Give --overwrite to replace it, or name another folder."))


def _write_page(file: FramesFile, task: Task, layout: Layout, report: Limits | None, mark: str) -> None:
    """The page, with its mark; it warns before it plays where the show may flash more than people bear."""
    from eavesong.preview import PageReader, write_page
    from eavesong.preview.night import WARNING
    from eavesong.scene import Reopened

    page, source = Path(task.page), Reopened(file)
    name, date, without = task.reader
    flashes = report.flashes if report is not None else None
    calm = (flashes is None or flashes.passes) and not source.allows_flashes
    with whole_file(page) as draft:
        write_page(
            source, draft, song=Path(task.song), photo=photo_of(task, layout), warning="" if calm else WARNING,
            reader=PageReader(visible(name), visible(date), frozenset(without), visible(task.title)),
        )  # fmt: skip
        with open(draft, "ab") as end:
            end.write(BY + quote(task.setlist).encode() + b" -->" + MARK + mark.encode() + b" -->\n")


def _mark(hashes: Mapping[str, str], order: str | None, task: Task, layout: Layout) -> str:
    """What was looked at, and by which code."""
    foreign = json.dumps(asdict(task.foreign)) if task.foreign is not None else ""
    looked = (task.findings, foreign, json.dumps((task.palettes, task.idle)))
    return content_hash(_page_mark(hashes, order, task, layout), *looked)


def _page_mark(hashes: Mapping[str, str], order: str | None, task: Task, layout: Layout) -> str:
    """What a page is made of, and by which code: what is said of other songs' shows does not change it."""
    made_of = (f"{name} {digest}" for name, digest in sorted(hashes.items()))
    reader = json.dumps((*task.reader, task.title, _photo_digest(photo_of(task, layout))) if task.page else ())
    return content_hash(*made_of, order or "", layout.content_hash, reader, fingerprint(__name__))


def _no_photo(photo: Path | None) -> str:
    """Why there is no photo to be seen; empty where there is."""
    from eavesong.survey.photo import opened

    if photo is None:
        return "is not found"
    try:
        with opened(photo, str(photo)):
            return ""
    except SurveyError as fault:
        return fault.problems[0].found


def _photo_digest(photo: Path | None) -> str:
    """SHA-256 in hex of a photo, empty for none; read once, however many pages show it."""
    with suppress(OSError):
        return _digest_at(str(photo), mark_of(str(photo))) if photo is not None else ""
    return ""


@lru_cache(100)
def _digest_at(photo: str, mark: tuple[int, ...]) -> str:
    with open(photo, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _mark_of(page: Path) -> str | None:
    """The mark at the end of a page; None where there is none."""
    try:
        with open(page, "rb") as file:
            file.seek(max(0, page.stat().st_size - len(MARK) - LENGTH - 5))
            end = file.read()
    except OSError:
        return None
    return end[len(MARK) : len(MARK) + LENGTH].decode("ascii", "replace") if end.startswith(MARK) else None


def replaces(task: Task) -> str:
    """That the page of a task takes the place of one that another setlist made, in words; empty where it does not."""
    page = Path(task.page)
    if not task.page or _mark_of(page) is None:
        return ""
    with open(page, "rb") as file:
        file.seek(max(0, page.stat().st_size - LONGEST_END))
        of, _, rest = file.read().rpartition(BY)
    other = unquote(rest.partition(b" -->")[0].decode(errors="replace")) if of else ""
    if not other or other == task.setlist:
        return ""
    return f"its page was made for the setlist '{other}', and is replaced. Pages of its own: pages = \"…\""


def _kept_at(mark: str) -> Path:
    return user_cache() / "looks" / f"{mark}.json"


def _keep(mark: str, notes: tuple[Remark, ...]) -> None:
    path = _kept_at(mark)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, json.dumps([asdict(note) for note in notes], ensure_ascii=False))
    except (OSError, OutputError) as fault:
        tell_no_cache(str(fault))
