// What people press, drag and tap, and what they are told.
function listen(page) {
  const { clock, camera, ribbon, audio } = page;
  ribbon.sought = (seconds) => seek(page, seconds);
  clock.changed = () => pressed(page);
  const on = (id, act) => $(id).addEventListener("click", act);
  on("play", () => toggle(page));
  on("back", () => stepFrame(page, -1));
  on("ahead", () => stepFrame(page, 1));
  on("half", () => { clock.speed(clock.rate === 1 ? 0.5 : 1); pressed(page); });
  on("loop", () => { repeatBars(clock, ribbon, clock.loop === null); pressed(page); });
  on("list", () => showList(page, !document.body.classList.contains("listing")));
  on("full", () => (document.fullscreenElement ? document.exitFullscreen() : document.documentElement.requestFullscreen?.())?.catch?.(() => {}));
  on("help", () => $("notes").showModal());
  on("notes-close", () => $("notes").close());
  on("card-close", () => choose(page, -1));
  on("warning-play", () => answer(page, false));
  on("warning-calm", () => answer(page, true));
  on("warning-no", () => $("warning").close());
  for (const button of $("views").children) button.addEventListener("click", () => look(page, button.dataset.view));
  for (const id of ["loop-from", "loop-to"]) $(id).addEventListener("input", () => repeatBars(clock, ribbon, true));
  addEventListener("keydown", (event) => keyed(page, event));
  page.stage.hold(() => { state.dirty = true; }, (event, pixel) => tapped(page, pixel));
  $("notes-text").textContent = about.notes;
  $("loop-from").max = $("loop-to").max = about.bars.length;
  if (!about.bars.length) $("loop").hidden = true;
  $("list").hidden = $("key-of-cues").hidden = !about.cues.length;
  if (matchMedia("(min-width: 1100px), (max-width: 760px) and (max-aspect-ratio: 3/4)").matches && about.cues.length) showList(page, true);
  if (audio) audio.addEventListener("error", () => { clock.audio = null; hint("This browser cannot play the song; the lights run without it."); });
}

function pressed({ clock, camera }) {
  showKeys(clock, camera.name);
  state.dirty = true;
}

function toggle(page) {
  if (page.clock.playing) return page.clock.pause();
  if (!state.warned && (about.warning || calm.matches)) return warnBefore(about.warning, calm.matches, about.bars);
  page.clock.play();
}

function answer(page, barByBar) {
  state.warned = true;
  state.barByBar = barByBar;
  $("warning").close();
  page.clock.play();
}

function seek(page, seconds) { page.clock.seek(seconds); state.dirty = true; }

function stepFrame(page, by) {
  page.clock.pause();
  const frame = Math.min(about.frames - 1, Math.max(0, frameAt(page, page.clock.position) + by));
  seek(page, about.start + (frame + 0.01) / about.rate);
}

function stepBar(page, by) {
  const { bars } = about, bar = page.ribbon.bar(page.clock.position + 0.02) - 1 + by;
  if (by < 0 && bar < 0) seek(page, 0); // before the first bar there is the song's beginning
  else if (bars.length) seek(page, 0.01 / about.rate + page.ribbon.first(bars[Math.min(bars.length - 1, bar)]));
}

function look(page, name) {
  page.camera.look(name);
  $("scene").setAttribute("aria-label", `The house at night, ${{ street: "seen from the street", corner: "seen from above one corner", plan: "seen from above", orbit: "seen from where you turn it" }[name]}. Tap a light to learn about its prop.`);
  if (name === "orbit") hint("Drag to turn the house.");
  pressed(page);
}

function nearer(page, factor) {
  page.camera.come(factor);
  state.dirty = true;
}

let hinted = 0;
function hint(text) {
  put("hint", text);
  $("hint").hidden = false;
  clearTimeout(hinted);
  hinted = setTimeout(() => { $("hint").hidden = true; }, 2600);
}

const KEYS = {
  " ": toggle, ArrowLeft: (page) => stepFrame(page, -1), ArrowRight: (page) => stepFrame(page, 1), ArrowUp: (page) => stepBar(page, 1),
  ArrowDown: (page) => stepBar(page, -1), Home: (page) => seek(page, 0), End: (page) => seek(page, about.seconds), h: () => $("half").click(),
  l: () => $("loop").click(), c: () => about.cues.length && $("list").click(), f: () => $("full").click(), s: () => $("say").click(), "?": () => $("help").click(),
  1: (page) => look(page, "street"), 2: (page) => look(page, "corner"), 3: (page) => look(page, "plan"), 4: (page) => look(page, "orbit"),
  "+": (page) => nearer(page, 1.25), "=": (page) => nearer(page, 1.25), "-": (page) => nearer(page, 0.8), Escape: (page) => choose(page, -1),
};

function keyed(page, event) {
  const own = event.target.closest?.("dialog, input, textarea"), act = KEYS[event.key] ?? KEYS[event.key.toLowerCase()];
  if (!act || own || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === " " && event.target.tagName === "BUTTON") return;
  event.preventDefault();
  act(page);
}

function tapped(page, pixel) {
  choose(page, pixel < 0 ? -1 : about.props.findIndex(([, first, count]) => pixel >= first && pixel < first + count), pixel);
}
