// Everything put together: what the studio tells, the scene, the clock and what people press.
import { Clock } from "../draw/clock.js";
import { Ribbon, timeText } from "../draw/ribbon.js";
import { Stage } from "../draw/stage.js";
import { Blocks } from "./blocks.js";
import { listen, pressed, setLoop, showList } from "./hands.js";
import { Link } from "./link.js";
import { $, hint, listCues, put, showCode, showFaults, showFindings } from "./words.js";
import { showKnobs, showTurned } from "./knobs.js";

export const calm = matchMedia("(prefers-reduced-motion: reduce)");
const parts = {};
const state = { frame: -1, drawn: 0, dirty: true, ready: false, cue: -1, prop: -1, before: false, warned: false, barByBar: false, edit: false, started: false, version: 0 };
const about = { seconds: 1, start: 0, end: 1, rate: 1, glow: [], beats: [], bars: [], sections: [] };
const ribbon = new Ribbon(about, $("ribbon")), stage = new Stage($("stage"), $("scene"), $("marks"), calm.matches);
const page = { parts, state, about, ribbon, stage, clock: new Clock(null, 1), audio: null, blocks: null, link: null, cues: () => cues() };
page.blocks = new Blocks((message) => page.link.say(message));
page.blocks.came = (frame) => { if (settled() && frame === frameAt(page.clock.position)) look(performance.now()); };
stage.resized = () => { ribbon.paint(); state.dirty = true; };
page.link = new Link(heard, (data) => page.blocks.take(data), connected);
listen(page);
requestAnimationFrame(turn);

function connected(open, before) {
  document.body.classList.toggle("lost", !open);
  if (!open && before) hint("The studio is gone. Waiting for it to come back …", 1e9);
  if (open) { page.blocks.forget(); if (state.ready) hint("Here again."); }
}

function heard(message) {
  if (message.hello) return greet(message.hello);
  for (const name of message.gone) delete parts[name];
  Object.assign(parts, message.parts);
  for (const text of message.said) hint(text, 6000);
  const fresh = message.parts, changed = (name) => name in fresh;
  if (changed("song")) { state.begin ??= message.start; setSong(); }
  if (changed("house")) setHouse();
  if (changed("show")) setTitle();
  if (changed("glow") || changed("song")) paintRibbon();
  if (changed("notice")) hint(fresh.notice.text, 6000);
  if (changed("faults")) showFaults(page);
  if (changed("findings") || changed("limits") || message.gone.includes("limits")) showFindings(page);
  if (changed("code")) showCode(page);
  if (changed("edits")) showTurned(page);
  if (changed("progress")) {
    put("drawing", fresh.progress.left ? "drawing the rest …" : "");
    if (!fresh.progress.left) state.whole = performance.now();
  }
  if (Object.keys(fresh).some((name) => name.startsWith("cue") || name === "palettes") || message.gone.length) { showKnobs(page); state.dirty ||= Boolean(state.marked); }
}

function greet(hello) {
  if (state.made && state.made !== hello.made) return location.reload();
  Object.assign(state, { made: hello.made, edit: hello.edit });
  document.body.classList.toggle("looking", !hello.edit);
}

function setTitle() {
  const { title, file, effect } = parts.show;
  document.title = `${title} – eavesong watch`;
  put("title", title);
  put("sub", [file === title ? "" : file, parts.house?.title].filter(Boolean).join(" · "));
  document.body.classList.toggle("alone", effect);
  if (effect && state.cue < 0) { state.cue = 0; showKnobs(page); }
}

function setSong() {
  const { song } = parts, before = page.audioName;
  page.blocks.measure(song, parts.house?.pixels ?? page.blocks.pixels);
  Object.assign(about, { seconds: song.seconds, start: 0, end: song.frames / song.rate, rate: song.rate, beats: song.beats, bars: song.bars, sections: song.sections });
  $("ribbon").setAttribute("aria-valuemax", song.seconds.toFixed(1));
  if (before !== song.audio) {
    const { clock } = page, at = clock.position, playing = clock.playing, { rate, loop } = clock;
    clock.pause();
    page.audioName = song.audio;
    page.audio = song.audio ? new Audio(`song/${song.audio}`) : null;
    if (page.audio) page.audio.preload = "auto";
    page.clock = new Clock(page.audio, song.seconds);
    Object.assign(page.clock, { rate, loop });
    page.clock.seek(Math.min(at, song.seconds));
    page.clock.changed = () => pressed(page);
    page.audio?.addEventListener("error", () => { page.clock.audio = null; if (page.link.open) hint("The song cannot be played here; the lights run without it.", 6000); });
    if (playing) page.clock.play();
  } else page.clock.duration = song.seconds;
  begin();
  pressed(page);
}

// What was asked for on the command line: where to begin, what to repeat.
function begin() {
  if (state.started) return;
  state.started = true;
  const { at, loop } = state.begin ?? {};
  if (at) page.clock.seek(ribbon.first(at));
  if (loop) setLoop(page, loop);
  if (matchMedia("(min-width: 1000px), (max-width: 760px)").matches) showList(page, true);
}

async function setHouse() {
  const { house } = parts, places = new Float32Array(bytes(house.places).buffer);
  if (parts.song) page.blocks.measure(parts.song, house.pixels);
  let picture = null;
  if (house.photo) {
    picture = new Image();
    picture.src = "photo";
    await picture.decode().catch(() => { picture = null; });
  }
  if (house !== parts.house) return;
  stage.set(house, places, true, picture);
  state.dirty = true;
  // Before there is any light the dark house is drawn, so that the first light finds everything in its place.
  if (!state.ready) { stage.camera.advance(performance.now()); stage.draw(new Uint8Array(4 * house.pixels), false, performance.now()); }
  if (parts.show) setTitle();
}

function bytes(text) { return Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)); }

function paintRibbon() { about.glow = parts.glow ?? []; ribbon.paint(); }

function cues() { return Array.from({ length: parts.cues ?? 0 }, (_, index) => parts[`cue/${index}`]); }

// The frame at a moment; in a picture a bar, the first of the bar.
function frameAt(seconds) {
  const bar = ribbon.bar(seconds), at = state.barByBar && bar ? ribbon.first(about.bars[bar - 1]) : seconds;
  return Math.min(parts.song.frames - 1, Math.max(0, Math.floor(at * parts.song.rate + 1e-3)));
}

// Whether there is a house and a song to show.
function settled() { return parts.song && parts.house && stage.light && page.blocks.pixels === parts.house.pixels; }

function turn(time) {
  requestAnimationFrame(turn);
  if (!settled()) return;
  page.clock.turn();
  stage.sharpen(page.clock.playing);
  look(time);
}

// Draw what is to be seen now, unless it is seen already.
function look(time) {
  const { clock, blocks } = page, seconds = clock.position, frame = frameAt(seconds), moved = stage.camera.advance(time);
  blocks.look(frame, clock.playing, clock.loop, state.before);
  const block = blocks.find(frame, state.before), fresh = block && (block.version !== state.version || block.before !== state.past);
  if (block && (frame !== state.frame || moved || state.dirty || fresh)) draw(block, frame, moved, time, fresh);
  tell(seconds);
}

function draw(block, frame, moved, time, fresh) {
  stage.draw(page.blocks.colours(block, frame), page.clock.playing, time);
  if (moved || state.dirty) mark();
  Object.assign(state, { frame, drawn: state.drawn + 1, dirty: false, ready: true, version: block.version, past: block.before, changed: fresh ? performance.now() : state.changed });
}

function mark() {
  const cue = state.marked ? cues()[state.cue] : undefined, prop = parts.house.props[state.prop];
  stage.unmark(!cue && !prop);
  if (cue && !parts.show?.effect) stage.trace(cue.runs, "#f3c98bd0");
  if (prop) stage.trace([[prop[1], prop[2]]], "#ffffffe0");
}

function tell(seconds) {
  const { bar, part } = ribbon.point(seconds, page.clock.loop);
  put("clock", timeText(seconds));
  put("bar", about.bars.length ? ribbon.barText(bar) : "");
  put("part", part);
  if (document.body.classList.contains("listing")) listCues(page, seconds);
}

addEventListener("error", (event) => hint(`This page has a fault: ${event.message}`, 1e9));
window.eavesong = {
  state: () => ({ frame: state.frame, drawn: state.drawn, ready: state.ready, version: state.version, position: page.clock.position, playing: page.clock.playing,
    song: page.audio ? page.audio.currentTime : page.clock.position, loop: page.clock.loop, rate: page.clock.rate, view: stage.camera?.name, cue: state.cue, prop: state.prop,
    open: page.link.open, left: parts.progress?.left, number: parts.progress?.version, before: state.before, flat: stage.flat, edit: state.edit, changed: state.changed, whole: state.whole }),
  light: (pixel) => [...page.blocks.out.subarray(4 * pixel, 4 * pixel + 3)], seek: (seconds) => { page.clock.seek(seconds); state.dirty = true; },
  place: (pixel) => stage.camera.place(pixel).map((at) => at / stage.ratio), parts,
};
