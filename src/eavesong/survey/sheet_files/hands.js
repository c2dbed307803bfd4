// Fingers, mouse and keys.
const fingers = new Map();
let held = null; // what the pressed finger does: { does: "aim" | "drag" | "pan" | "pinch", … }

const BESIDE = 5; // places of the screen

const nearest = (x, y, reach) => {
  const away = state.points.map((point) => { const at = toScreen(point); return Math.hypot(at.x - x, at.y - y); });
  const best = away.indexOf(Math.min(...away));
  return best >= 0 && away[best] <= reach ? best : -1;
};
const placeOf = (event) => {
  const box = canvas.getBoundingClientRect();
  return { x: event.clientX - box.left, y: event.clientY - box.top };
};

canvas.addEventListener("pointerdown", (event) => {
  const at = placeOf(event);
  canvas.setPointerCapture(event.pointerId);
  fingers.set(event.pointerId, at);
  if (fingers.size === 2) {
    if (held && held.does === "drag") Object.assign(state.points[held.index], held.from);
    held = { does: "pinch", last: span() };
    state.aim = null;
    loupe.hidden = true;
  } else if (state.hand || event.button === 1) {
    held = { does: "pan", last: at };
  } else if (event.button === 0) {
    const index = nearest(at.x, at.y, REACH[event.pointerType] || 12);
    if (index >= 0) {
      const { x, y } = state.points[index], screen = toScreen({ x, y });
      held = { does: "drag", index, from: { x, y }, dx: screen.x - at.x, dy: screen.y - at.y };
      choose(index);
    } else {
      held = { does: "aim" };
      choose(-1);
      aim(at);
    }
  }
  draw();
});

canvas.addEventListener("pointermove", (event) => {
  const at = placeOf(event);
  if (fingers.has(event.pointerId)) fingers.set(event.pointerId, at);
  if (!held) {
    if (event.pointerType === "mouse" && !state.hand) magnify(toPhoto(at.x, at.y), at.x, at.y);
    return;
  }
  if (held.does === "pinch") pinch();
  if (held.does === "pan") { eye.left += at.x - held.last.x; eye.top += at.y - held.last.y; held.last = at; }
  if (held.does === "aim") aim(at);
  if (held.does === "drag") {
    const place = toPhoto(at.x + held.dx, at.y + held.dy);
    Object.assign(state.points[held.index], place);
    magnify(place, at.x, at.y);
  }
  draw();
});

const released = (event) => {
  fingers.delete(event.pointerId);
  if (!held) return;
  const { does } = held;
  if (event.type === "pointerup" && does === "aim" && state.aim) set(state.aim);
  if (does === "drag") {
    const point = state.points[held.index];
    const still = point.x === held.from.x && point.y === held.from.y;
    // A tap beside a point means the next one: on a phone a whole door is no wider than a finger.
    if (event.type === "pointerup" && still && state.queue.length && Math.hypot(held.dx, held.dy) > BESIDE) {
      const at = toScreen(point);
      choose(-1);
      set(inside(toPhoto(at.x - held.dx, at.y - held.dy)));
    } else if (event.type !== "pointerup") Object.assign(point, held.from);
    else if (!still) remember({ does: "move", index: held.index, from: held.from });
  }
  if (does === "pinch" && fingers.size) { held = { does: "none" }; return; }
  held = null;
  state.aim = null;
  loupe.hidden = true;
  tell();
};
canvas.addEventListener("pointerup", released);
canvas.addEventListener("pointercancel", released);
canvas.addEventListener("pointerleave", () => { if (!held) loupe.hidden = true; });
canvas.addEventListener("contextmenu", (event) => event.preventDefault());
canvas.addEventListener("wheel", (event) => {
  event.preventDefault();
  const { x, y } = placeOf(event);
  zoom(Math.exp(-Math.sign(event.deltaY) * 0.18), x, y);
}, { passive: false });

function aim(at) {
  state.aim = toPhoto(at.x, at.y);
  magnify(state.aim, at.x, at.y);
}

function span() {
  const [a, b] = [...fingers.values()];
  return { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2, wide: Math.hypot(a.x - b.x, a.y - b.y) || 1 };
}

function pinch() {
  if (fingers.size < 2) return;
  const now = span();
  eye.left += now.x - held.last.x;
  eye.top += now.y - held.last.y;
  zoom(now.wide / held.last.wide, now.x, now.y);
  held.last = now;
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
canvas.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const arrow = ARROWS[event.key];
  if (arrow) nudge(arrow, event.shiftKey);
  else if (event.key === "Enter" || event.key === " ") { if (state.aim) { set(state.aim); tell(); } }
  else if (event.key === "Delete" || event.key === "Backspace") removeChosen();
  else if (event.key === "Escape") { choose(-1); state.aim = null; loupe.hidden = true; tell(); }
  else if (event.key === "+" || event.key === "=") zoomMiddle(1.3);
  else if (event.key === "-") zoomMiddle(1 / 1.3);
  else if (event.key === "0") { fit(); draw(); }
  else return;
  event.preventDefault();
});

// A chosen point goes by one picture element of the photo, the cross by eight on the screen; with Shift ten and one.
function nudge([dx, dy], shift) {
  if (state.chosen >= 0) {
    const point = state.points[state.chosen], step = (shift ? 10 : 1) / about.scale;
    remember({ does: "move", index: state.chosen, from: { x: point.x, y: point.y } });
    Object.assign(point, inside({ x: point.x + dx * step, y: point.y + dy * step }));
    show(point);
  } else {
    const box = canvas.getBoundingClientRect();
    const start = state.aim || toPhoto(box.width / 2, box.height / 2), step = (shift ? 1 : 8) / eye.scale;
    state.aim = inside({ x: start.x + dx * step, y: start.y + dy * step });
    show(state.aim);
  }
  tell();
}

const inside = ({ x, y }) => ({
  x: Math.min(Math.max(x, 0), photo.naturalWidth), y: Math.min(Math.max(y, 0), photo.naturalHeight),
});
function show(place) {
  const at = toScreen(place);
  magnify(place, at.x, at.y);
}
function zoomMiddle(by) {
  const box = canvas.getBoundingClientRect();
  zoom(by, box.width / 2, box.height / 2);
}

document.addEventListener("keydown", (event) => {
  if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && event.target.tagName !== "INPUT") {
    event.preventDefault();
    undo();
  }
});
