"""What light answers to, in the picture of a song: strokes, the lead, and what happens once in a while."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from eavesong.preview.heard_rows import LEAD, SPANS, STROKES, WAVE
from eavesong.preview.ink import ACCENT, FAINT, TEXT, font

if TYPE_CHECKING:
    from eavesong.music import Events
    from eavesong.preview.heard import HeardSheet

STROKE_COLOURS = {"high": (150, 206, 236), "middle": (236, 206, 120), "low": (236, 122, 98)}
"""From the top lane down."""
LANE = 9
"""Lines of a lane of strokes."""
LEAD_COLOUR = (126, 224, 176)
SPAN_COLOURS = {"build": (226, 186, 92), "fill": (196, 132, 214), "stop": (110, 140, 220)}
HIT_COLOUR = (255, 96, 72)


def draw_events(pen: Any, sheet: HeardSheet, events: Events) -> None:
    """Draw all events below the sound: the taller a stroke the stronger, the higher a line of the lead its pitch."""
    _draw_strokes(pen, sheet, events)
    _draw_lead(pen, sheet, events)
    _draw_spans(pen, sheet, events)
    _draw_moments(pen, sheet, events)


def _draw_strokes(pen: Any, sheet: HeardSheet, events: Events) -> None:
    for lane, (kind, colour) in enumerate(STROKE_COLOURS.items()):
        for event in events.labelled(kind):
            row, at = sheet.place(event.time)
            foot = sheet.top(row) + STROKES[0] + (lane + 1) * LANE - 2
            pen.line((round(at), foot - round((LANE - 3) * event.strength), round(at), foot), fill=colour)


def _draw_lead(pen: Any, sheet: HeardSheet, events: Events) -> None:
    for start, end, pitch in events.spans("lead"):
        for row, left, right in sheet.pieces(start, end):
            y = sheet.top(row) + LEAD[0] + round((1 - pitch) * (LEAD[1] - 3))
            pen.rectangle((left, y, max(left, right - 1), y + 1), fill=LEAD_COLOUR)


def _draw_spans(pen: Any, sheet: HeardSheet, events: Events) -> None:
    """Stops, fills and builds with their names, where there is room."""
    for label, colour in SPAN_COLOURS.items():
        for start, end, _ in events.spans(label):
            for row, left, right in sheet.pieces(start, end):
                y = sheet.top(row) + SPANS[0]
                pen.rectangle((left, y, max(left, right - 1), y + SPANS[1] - 1), fill=(*colour, 170))
                if pen.textlength(label, font=font(10)) + 6 < right - left:
                    pen.text((left + 3, y + 4), label, fill=TEXT, font=font(10), anchor="lm")


def _draw_moments(pen: Any, sheet: HeardSheet, events: Events) -> None:
    """Phrases as ticks, hits as dots on a line through the wave, arrivals as triangles that point at their downbeat."""
    for event in events.labelled("phrase"):
        row, at = sheet.place(event.time)
        y = sheet.top(row) + SPANS[0]
        pen.line((round(at), y, round(at), y + SPANS[1] - 1), fill=FAINT)
    for event in events.labelled("hit"):
        row, at = sheet.place(event.time)
        x, y, top = round(at), sheet.top(row) + SPANS[0] + 4, sheet.top(row) + WAVE[0]
        pen.line((x, top, x, top + WAVE[1] - 1), fill=(*HIT_COLOUR, 190))
        pen.ellipse((x - 3, y - 3, x + 3, y + 3), fill=HIT_COLOUR)
    for event in events.labelled("arrival"):
        row, at = sheet.place(event.time)
        x, y = round(at), sheet.top(row) + SPANS[0]
        pen.polygon((x - 5, y + SPANS[1] - 1, x + 5, y + SPANS[1] - 1, x, y), fill=ACCENT)
