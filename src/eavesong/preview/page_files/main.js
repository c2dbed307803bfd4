// Everything put together: the page's data, the scene, the clock and what people press.
import { Clock } from "./clock.js";
import { Frames, bytesOf, inflate } from "./decode.js";
import { Ribbon, timeText } from "./ribbon.js";
import { Remarks } from "./remarks.js";
import { Stage } from "./stage.js";

const $ = (id) => document.getElementById(id);
const about = JSON.parse($("about").textContent);
const calm = matchMedia("(prefers-reduced-motion: reduce)");
const state = { frame: -1, drawn: 0, barByBar: false, warned: false, chosen: null, prop: -1, ready: false, dirty: true };

function fileOf(id, kind) {
  const text = $(id).textContent;
  return text ? URL.createObjectURL(new Blob([bytesOf(text, 0, text.length)], { type: kind })) : "";
}

async function start() {
  const text = $("places").textContent, raw = await inflate(bytesOf(text, 0, text.length));
  const steps = new Uint16Array(raw.buffer, 0, raw.length / 2), n = about.pixels, places = new Float32Array(3 * n);
  for (let i = 0; i < 3 * n; i++) places[i] = about.low[i % 3] + steps[Math.floor(i / 3) + (i % 3) * n] / 65535 * about.size[i % 3];
  const frames = new Frames(about, $("frames").textContent), stage = new Stage($("stage"), $("scene"), $("marks"), calm.matches);
  const audio = about.audio ? new Audio(fileOf("song", about.audio)) : null;
  if (audio) audio.preload = "auto";
  const clock = new Clock(audio, about.seconds), ribbon = new Ribbon(about, $("ribbon"));
  stage.resized = () => { ribbon.paint(); state.dirty = true; };
  stage.set(about, places, !about.fidelity.luma, await photo());
  const { camera } = stage, page = { frames, stage, camera, clock, ribbon, audio, dark: new Uint8Array(4 * n) };
  stage.draw(page.dark, false, 0); // the house before its first frame is unpacked
  await (frames.load(frames.chunkOf(0))?.done);
  listen(page);
  clock.seek(Math.max(0, about.start));
  page.remarks = new Remarks(about, clock, ribbon, () => { ribbon.paint(); state.dirty = true; });
  requestAnimationFrame((time) => turn(page, time));
  window.eavesong = {
    state: () => ({ frame: state.frame, heard: state.heard, position: clock.position, song: audio ? audio.currentTime : clock.position, playing: clock.playing,
      drawn: state.drawn, loop: clock.loop, rate: clock.rate, view: camera.name, flat: stage.flat, plain: stage.plain, quality: stage.quality, ready: state.ready }),
    light: (pixel) => frames.light(pixel), place: (pixel) => camera.place(pixel).map((at) => at / stage.ratio),
    seek: (seconds) => clock.seek(seconds), coarser: () => { stage.quality = 0.5; }, about,
  };
}

function photo() {
  const url = about.photo ? fileOf("photo", "image/jpeg") : "";
  if (!url) return null;
  const picture = new Image();
  picture.src = url;
  return picture.decode().then(() => picture, () => null);
}

// The frame at a moment: the last one begun; in a picture a bar, the first of the bar. -1 is darkness.
function frameAt(page, seconds) {
  const bar = page.ribbon.bar(seconds), at = state.barByBar && bar ? page.ribbon.first(about.bars[bar - 1]) : seconds;
  if (at < about.start - 1e-3 || at >= about.end) return -1;
  return Math.min(about.frames - 1, Math.floor((at - about.start) * about.rate + 1e-3));
}

function turn(page, time) {
  requestAnimationFrame((next) => turn(page, next));
  const { clock, camera, frames, stage } = page;
  clock.turn();
  stage.sharpen(clock.playing);
  const seconds = clock.position, frame = frameAt(page, seconds), moved = camera.advance(time);
  if (clock.playing && frame >= 0) frames.load(frames.chunkOf(frame) + 1);
  if (frame === state.frame && !moved && !state.dirty) return tell(page, seconds);
  const colours = frame < 0 ? page.dark : frames.at(frame);
  if (!colours) return tell(page, seconds);
  stage.draw(colours, clock.playing, time);
  if (moved || state.dirty) mark(page);
  Object.assign(state, { frame, drawn: state.drawn + 1, dirty: false, ready: true, heard: page.audio ? page.audio.currentTime : seconds });
  tell(page, seconds);
}

function tell(page, seconds) {
  const { bar, part } = page.ribbon.point(seconds, page.clock.loop);
  put("clock", timeText(seconds));
  put("bar", about.bars.length ? page.ribbon.barText(bar) : "");
  put("part", part);
  if (document.body.classList.contains("listing")) listCues(page, seconds);
}

function put(id, text) { if ($(id).textContent !== text) $(id).textContent = text; }

addEventListener("error", (event) => { put("sub", `This page has a fault: ${event.message}`); });
start().catch((fault) => { put("sub", `This page cannot be shown here: ${fault.message}`); console.error(fault); });
