// The photo, the points and the lines on it, and the loupe.
const REACH = { mouse: 9, pen: 12, touch: 22 }; // CSS pixels within which a press means a point
const eye = { scale: 1, left: 0, top: 0 }; // screen = photo * scale + (left, top), CSS pixels

function fit() {
  const box = canvas.getBoundingClientRect();
  eye.scale = Math.min(box.width / photo.naturalWidth, box.height / photo.naturalHeight);
  eye.left = (box.width - photo.naturalWidth * eye.scale) / 2;
  eye.top = (box.height - photo.naturalHeight * eye.scale) / 2;
}

function zoom(by, x, y) {
  const scale = Math.min(Math.max(eye.scale * by, 0.02), 12);
  eye.left = x - (x - eye.left) * scale / eye.scale;
  eye.top = y - (y - eye.top) * scale / eye.scale;
  eye.scale = scale;
  draw();
}

const toScreen = (point) => ({ x: point.x * eye.scale + eye.left, y: point.y * eye.scale + eye.top });
const toPhoto = (x, y) => ({
  x: Math.min(Math.max((x - eye.left) / eye.scale, 0), photo.naturalWidth),
  y: Math.min(Math.max((y - eye.top) / eye.scale, 0), photo.naturalHeight),
});

let drawn = 0;
function draw() {
  if (!drawn) drawn = requestAnimationFrame(() => { drawn = 0; paint(); });
}

function paint() {
  const box = canvas.getBoundingClientRect(), fine = window.devicePixelRatio || 1;
  const [width, height] = [Math.round(box.width * fine), Math.round(box.height * fine)];
  if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
  pen.setTransform(fine, 0, 0, fine, 0, 0);
  pen.clearRect(0, 0, box.width, box.height);
  pen.drawImage(photo, eye.left, eye.top, photo.naturalWidth * eye.scale, photo.naturalHeight * eye.scale);
  lines();
  state.points.forEach((point, index) => mark(point, index === state.chosen));
  if (state.aim) cross(toScreen(state.aim));
}

// Lines that should lie on edges of the photo: outlines of things, drawn on past their ends.
function lines() {
  for (const { ends } of [...knownLines(state.points), ...outlines()]) {
    const [a, b] = ends.map(toScreen), length = Math.hypot(b.x - a.x, b.y - a.y) || 1;
    const past = { x: (b.x - a.x) / length * 40, y: (b.y - a.y) / length * 40 };
    stroke([{ x: a.x - past.x, y: a.y - past.y }, { x: b.x + past.x, y: b.y + past.y }], "#ffffff90", 1);
    stroke([a, b], "#ffd75e", 1.5);
  }
}

function outlines() {
  const found = [];
  for (const thing of THINGS.filter((each) => each.points.length > 1)) {
    for (const own of new Set(state.points.filter((point) => point.kind === thing.name).map((point) => point.thing))) {
      const mine = thing.points.map((_, index) => state.points.find((point) => point.thing === own && point.index === index));
      mine.forEach((point, index) => {
        const next = mine[(index + 1) % mine.length];
        if (point && next && (index + 1 < mine.length || thing.ring)) found.push({ ends: [point, next] });
      });
    }
  }
  return found;
}

function stroke(places, colour, width) {
  pen.beginPath();
  places.forEach(({ x, y }, index) => (index ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  Object.assign(pen, { strokeStyle: colour, lineWidth: width });
  pen.stroke();
}

function mark(point, chosen) {
  const { x, y } = toScreen(point);
  pen.beginPath();
  pen.arc(x, y, chosen ? 9 : 6, 0, 2 * Math.PI);
  Object.assign(pen, { strokeStyle: "#000000a0", lineWidth: 4 });
  pen.stroke();
  Object.assign(pen, { strokeStyle: chosen ? "#ffd75e" : "#ffffff", lineWidth: 2 });
  pen.stroke();
  Object.assign(pen, { fillStyle: "#b3261e" });
  pen.fillRect(x - 1, y - 1, 2, 2);
  if (chosen || eye.scale > 0.4) label(point.name, x + 11, y - 8);
}

function label(text, x, y) {
  pen.font = "600 13px system-ui, sans-serif";
  Object.assign(pen, { strokeStyle: "#000000c0", lineWidth: 3, fillStyle: "#ffffff", lineJoin: "round" });
  pen.strokeText(text, x, y);
  pen.fillText(text, x, y);
}

function cross({ x, y }) {
  for (const [colour, width] of [["#000000a0", 3], ["#ffd75e", 1]]) {
    stroke([{ x: x - 14, y }, { x: x + 14, y }], colour, width);
    stroke([{ x, y: y - 14 }, { x, y: y + 14 }], colour, width);
  }
}

// The surroundings of a place in the photo, six times as large as on the screen and at least twice as in the photo.
function magnify(place, x, y) {
  const glass = loupe.getContext("2d"), size = loupe.width, power = Math.max(eye.scale * 6, 2);
  loupe.hidden = false;
  const box = canvas.getBoundingClientRect(), wide = 138;
  loupe.style.left = `${Math.min(Math.max(x - wide / 2, 4), box.width - wide - 4)}px`;
  loupe.style.top = `${y > wide + 60 ? y - wide - 50 : y + 60}px`;
  glass.imageSmoothingEnabled = power < 8;
  glass.fillStyle = "#3a4151";
  glass.fillRect(0, 0, size, size);
  glass.drawImage(photo, size / 2 - place.x * power, size / 2 - place.y * power,
    photo.naturalWidth * power, photo.naturalHeight * power);
  for (const [colour, width] of [["#000000b0", 4], ["#ffd75e", 1.5]]) {
    glass.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      glass.moveTo(size / 2 + 10 * dx, size / 2 + 10 * dy);
      glass.lineTo(size / 2 + 60 * dx, size / 2 + 60 * dy);
    }
    Object.assign(glass, { strokeStyle: colour, lineWidth: width });
    glass.stroke();
  }
}
