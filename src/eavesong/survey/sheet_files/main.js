// The points, what comes next, and the buttons.
function remember(step) {
  state.past.push(step);
}

function undo() {
  const step = state.past.pop();
  if (!step) return;
  if (step.does === "set") {
    state.points.pop();
    if (step.next) state.queue.unshift(step.next);
  } else if (step.does === "move") {
    Object.assign(state.points[step.index], step.from);
  } else {
    state.points.splice(step.index, 0, step.point);
  }
  choose(-1);
  offer();
  tell();
}

// Set the next point at a place in the photo.
function set(place) {
  const next = state.queue.shift() || null;
  const name = free(byId("name").value.trim() || "point");
  const planned = next && next.name === name ? { thing: next.thing, kind: next.kind, index: next.index } : {};
  state.points.push({ name, on: byId("plane").value, ...planned, x: place.x, y: place.y });
  remember({ does: "set", next });
  state.aim = null;
  loupe.hidden = true;
  offer();
}

const taken = (name) => state.points.some((point) => point.name === name);
function free(name) {
  let own = name;
  for (let number = 2; taken(own); number += 1) own = `${name} ${number}`;
  return own;
}

function choose(index) {
  state.chosen = index;
  tell();
}

function removeChosen() {
  if (state.chosen < 0) return;
  remember({ does: "remove", index: state.chosen, point: state.points[state.chosen] });
  state.points.splice(state.chosen, 1);
  choose(-1);
  offer();
}

// Put the name and the plane of the next point into the form.
function offer() {
  while (state.queue.length && taken(state.queue[0].name)) state.queue.shift();
  const next = state.queue[0];
  byId("name").value = next ? next.name : free("point");
  byId("plane").value = next ? next.on : "front";
  tell();
}

function begin(thing) {
  let number = 1;
  const numbered = () => (number > 1 ? `${thing.name} ${number}` : thing.name);
  while (state.points.some((point) => point.thing === numbered())) number += 1;
  state.queue = pointsOf(thing, number);
  choose(-1);
  offer();
}

// Everything on the page that follows from the points.
function tell() {
  const chosen = state.points[state.chosen], name = byId("name").value.trim() || "point";
  const task = state.queue.length || !/^point( \d+)?$/.test(name) ? `Point at: ${name}` : "What is next? Choose or name it.";
  byId("task").textContent = chosen ? `Chosen: ${chosen.name}. Drag, or arrow keys.` : task;
  byId("count").textContent = state.points.length;
  byId("undo").disabled = !state.past.length;
  byId("remove").disabled = !chosen;
  const now = state.queue[0];
  for (const button of byId("things").children) button.setAttribute("aria-pressed", String(!!now && now.kind === button.dataset.thing));
  list();
  draw();
}

function list() {
  const items = byId("points");
  while (items.children.length > state.points.length) items.lastChild.remove();
  state.points.forEach((point, index) => {
    const item = items.children[index] || items.appendChild(entry(index));
    const button = item.firstChild;
    button.firstChild.textContent = point.name;
    button.lastChild.textContent = `${Math.round(point.x * about.scale)}, ${Math.round(point.y * about.scale)}`;
    button.setAttribute("aria-current", String(index === state.chosen));
  });
}

function entry(index) {
  const item = document.createElement("li"), button = document.createElement("button");
  button.type = "button";
  button.append(document.createElement("span"), document.createElement("small"));
  button.addEventListener("click", () => { choose(index === state.chosen ? -1 : index); canvas.focus(); });
  item.append(button);
  return item;
}

const text = () => surveyText(state.points, about);

async function copy() {
  try {
    await navigator.clipboard.writeText(text());
  } catch {
    byId("text").value = text();
    byId("text-box").showModal();
    byId("text").select();
    document.execCommand("copy");
    byId("text-box").close();
  }
  byId("task").textContent = "Copied.";
}

function save() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text()], { type: "application/toml" }));
  link.download = about.saved;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  byId("task").textContent = `Saved as ${about.saved}.`;
}

for (const thing of THINGS) {
  const button = document.createElement("button");
  Object.assign(button, { type: "button", textContent: thing.name });
  button.dataset.thing = thing.name;
  button.addEventListener("click", () => begin(thing));
  byId("things").append(button);
  for (const point of pointsOf(thing, 1)) byId("names").append(new Option(point.name));
}
for (const [value, told] of Object.entries(PLANES)) byId("plane").append(new Option(told, value));
byId("name").addEventListener("input", () => {
  const known = THINGS.flatMap((thing) => pointsOf(thing, 1)).find((point) => point.name === byId("name").value);
  if (known) byId("plane").value = known.on;
  tell();
});
byId("own").addEventListener("submit", (event) => { event.preventDefault(); canvas.focus(); });
byId("undo").addEventListener("click", undo);
byId("remove").addEventListener("click", removeChosen);
byId("copy").addEventListener("click", copy);
byId("save").addEventListener("click", save);
byId("show").addEventListener("click", () => { byId("text").value = text(); byId("text-box").showModal(); });
byId("text-close").addEventListener("click", () => byId("text-box").close());
byId("nearer").addEventListener("click", () => zoomMiddle(1.5));
byId("farther").addEventListener("click", () => zoomMiddle(1 / 1.5));
byId("whole").addEventListener("click", () => { fit(); draw(); });
byId("hand").addEventListener("click", () => {
  state.hand = !state.hand;
  byId("hand").setAttribute("aria-pressed", String(state.hand));
  document.body.classList.toggle("hand", state.hand);
});
// A page left by mistake loses no clicks unasked.
window.addEventListener("beforeunload", (event) => { if (state.past.length) event.preventDefault(); });
new ResizeObserver(() => { if (photo.complete) { fit(); draw(); } }).observe(canvas);
photo.decode().then(() => { fit(); begin(THINGS[0]); document.body.dataset.ready = "yes"; });
window.sheet = { state, text, toScreen };
