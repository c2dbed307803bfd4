// What people press, drag, tap and hold.
import { repeatBars, showKeys, warnBefore } from "../draw/desk.js";
import { calm } from "./main.js";
import { showKnobs } from "./knobs.js";
import { $, hint } from "./words.js";

export function listen(page) {
  const { ribbon, stage, state } = page, on = (id, act) => $(id).addEventListener("click", act);
  ribbon.sought = (seconds) => seek(page, seconds);
  on("play", () => toggle(page));
  on("back", () => stepBeat(page, -1));
  on("ahead", () => stepBeat(page, 1));
  on("half", () => { page.clock.speed(page.clock.rate === 1 ? 0.5 : 1); pressed(page); });
  on("loop", () => { repeatBars(page.clock, ribbon, page.clock.loop === null); pressed(page); });
  on("list", () => showList(page, !document.body.classList.contains("listing")));
  on("help", () => $("notes").showModal());
  on("notes-close", () => $("notes").close());
  on("knobs-back", () => chooseCue(page, -1));
  on("found", () => { $("findings").scrollIntoView(); $("findings-title").focus(); });
  on("warning-play", () => answer(page, false));
  on("warning-calm", () => answer(page, true));
  on("warning-no", () => $("warning").close());
  for (const word of ["keep", "letgo", "undo"]) on(word, () => page.link.say({ do: word }));
  for (const button of $("views").children) button.addEventListener("click", () => look(page, button.dataset.view));
  for (const id of ["loop-from", "loop-to"]) $(id).addEventListener("input", () => repeatBars(page.clock, ribbon, true));
  const holdBefore = (held) => { if (state.before !== held) { state.before = held; showBefore(page); } };
  $("before").addEventListener("pointerdown", () => holdBefore(true));
  for (const end of ["pointerup", "pointerleave", "pointercancel", "blur"]) $("before").addEventListener(end, () => holdBefore(false));
  $("before").addEventListener("keydown", (event) => { if (event.key === "Enter" || event.key === " ") { event.preventDefault(); holdBefore(true); } });
  $("before").addEventListener("keyup", () => holdBefore(false));
  $("before").addEventListener("contextmenu", (event) => event.preventDefault());
  addEventListener("keydown", (event) => keyed(page, event, holdBefore));
  addEventListener("keyup", (event) => { if (event.key.toLowerCase() === "b") holdBefore(false); });
  addEventListener("blur", () => holdBefore(false));
  stage.hold(() => { state.dirty = true; }, (event, pixel) => tapped(page, pixel));
}

export function pressed({ clock, stage, state, about }) {
  showKeys(clock, stage.camera?.name ?? "street");
  $("loop").hidden = !about.bars.length;
  $("loop-from").max = $("loop-to").max = about.bars.length;
  state.dirty = true;
}

function toggle(page) {
  if (page.clock.playing) return page.clock.pause();
  if (!page.state.warned && (page.parts.show?.flashes || calm.matches)) {
    const text = page.parts.show?.flashes ? "This show may flash more than three times a second." : "";
    return warnBefore(text, calm.matches, page.about.bars);
  }
  page.clock.play();
}

function answer(page, barByBar) {
  Object.assign(page.state, { warned: true, barByBar });
  $("warning").close();
  page.clock.play();
}

function seek(page, seconds) { page.clock.seek(seconds); page.state.dirty = true; }

function stepFrame(page, by) {
  page.clock.pause();
  const { rate, frames } = page.parts.song, frame = Math.floor(page.clock.position * rate + 1e-3) + by;
  seek(page, (Math.min(frames - 1, Math.max(0, frame)) + 0.01) / rate);
}

// To the beat or bar before or after this moment.
function stepAlong(page, times, by) {
  const at = page.clock.position, next = by > 0 ? times.find((time) => time > at + 0.02) : times.findLast((time) => time < at - 0.02);
  if (next !== undefined) seek(page, page.ribbon.first(next) + 1e-3);
}

const stepBeat = (page, by) => stepAlong(page, page.about.beats, by);
const stepBar = (page, by) => stepAlong(page, page.about.bars, by);

export function setLoop(page, [from, to]) {
  page.clock.loop = [page.ribbon.first(from), to];
  $("loop-from").value = Math.max(1, page.ribbon.bar(from));
  $("loop-to").value = Math.max(1, page.ribbon.bar(to - 0.02));
  seek(page, page.clock.loop[0]);
}

export function showList(page, on) {
  document.body.classList.toggle("listing", on);
  $("list").setAttribute("aria-pressed", on);
  page.state.listed = "";
}

export function chooseCue(page, index) {
  const { state } = page, before = state.cue;
  if (index < 0 && page.parts.show?.effect) return;
  Object.assign(state, { cue: index, dirty: true, listed: "", marked: true });
  // What the cue lights is marked for a moment only: the marks would hide what its knobs do.
  clearTimeout(state.marking);
  state.marking = setTimeout(() => Object.assign(state, { marked: false, dirty: true }), 1500);
  showKnobs(page);
  if (index >= 0) { $("knobs-back").focus(); $("now").scrollTop = 0; } else if (before >= 0) $("cues").querySelector("button")?.focus();
}

// A tap on a light: the cues that light its prop; one alone is opened at once.
function tapped(page, pixel) {
  const { state, parts } = page, prop = pixel < 0 ? -1 : parts.house.props.findIndex(([, first, count]) => pixel >= first && pixel < first + count);
  if (parts.show?.effect) return;
  Object.assign(state, { prop, dirty: true });
  chooseCue(page, -1);
  if (prop < 0) return;
  showList(page, true);
  hint(parts.house.props[prop][0]);
}

function look(page, name) {
  page.stage.camera.look(name);
  if (name === "orbit") hint("Drag to turn the house.");
  pressed(page);
}

function showBefore({ state }) {
  $("before").setAttribute("aria-pressed", state.before);
  $("past").hidden = !state.before;
  state.dirty = true;
}

function escape(page) {
  if (page.state.cue >= 0 && !page.parts.show?.effect) chooseCue(page, -1);
  else { page.state.prop = -1; page.state.listed = ""; page.state.dirty = true; }
}

const KEYS = {
  " ": toggle, ArrowLeft: (page) => stepBeat(page, -1), ArrowRight: (page) => stepBeat(page, 1), ArrowUp: (page) => stepBar(page, 1),
  ArrowDown: (page) => stepBar(page, -1), ",": (page) => stepFrame(page, -1), ".": (page) => stepFrame(page, 1), Home: (page) => seek(page, 0),
  End: (page) => seek(page, page.about.seconds), h: () => $("half").click(), l: () => $("loop").click(), c: () => $("list").click(),
  "?": () => $("help").click(), 1: (page) => look(page, "street"), 2: (page) => look(page, "corner"), 3: (page) => look(page, "plan"), 4: (page) => look(page, "orbit"), Escape: escape,
  k: () => $("keep").click(), g: () => $("letgo").click(), z: () => $("undo").click(),
};

function keyed(page, event, holdBefore) {
  const own = event.target.closest?.("dialog, input, select"), key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (own && !(key === "Escape" || own.type === "range" && "kgzb ".includes(key))) return;
  if (key === "b") { if (!event.repeat) holdBefore(true); return; }
  const act = KEYS[key];
  if (!act || key === " " && event.target.tagName === "BUTTON") return;
  event.preventDefault();
  act(page);
}
