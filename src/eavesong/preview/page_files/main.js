// Everything put together: the page's data, the scene, the clock and what people press.
const $ = (id) => document.getElementById(id);
const about = JSON.parse($("about").textContent);
const calm = matchMedia("(prefers-reduced-motion: reduce)");
const state = { frame: -1, drawn: 0, slow: 0, quality: 1, sharp: 1, barByBar: false, warned: false, chosen: null, prop: -1, ready: false, dirty: true };

function fileOf(id, kind) {
  const text = $(id).textContent;
  return text ? URL.createObjectURL(new Blob([bytesOf(text, 0, text.length)], { type: kind })) : "";
}

async function start() {
  const text = $("places").textContent, raw = await inflate(bytesOf(text, 0, text.length));
  const steps = new Uint16Array(raw.buffer, 0, raw.length / 2), n = about.pixels, places = new Float32Array(3 * n);
  for (let i = 0; i < 3 * n; i++) places[i] = about.low[i % 3] + steps[Math.floor(i / 3) + (i % 3) * n] / 65535 * about.size[i % 3];
  const frames = new Frames(about, $("frames").textContent), camera = new Camera(places, calm.matches);
  const audio = about.audio ? new Audio(fileOf("song", about.audio)) : null;
  if (audio) audio.preload = "auto";
  const clock = new Clock(audio, about.seconds), ribbon = new Ribbon(about, $("ribbon"));
  const light = lightOn($("scene"), places);
  const picture = await photo(), page = { frames, camera, clock, ribbon, light, audio, picture };
  await (frames.load(frames.chunkOf(0))?.done);
  fit(page);
  new ResizeObserver(() => fit(page)).observe($("stage"));
  listen(page);
  clock.seek(Math.max(0, about.start));
  requestAnimationFrame((time) => turn(page, time));
  window.eavesong = {
    state: () => ({ frame: state.frame, heard: state.heard, position: clock.position, song: audio ? audio.currentTime : clock.position, playing: clock.playing,
      drawn: state.drawn, loop: clock.loop, rate: clock.rate, view: camera.name, flat: light instanceof PlainLight, plain: state.plain, quality: state.quality, ready: state.ready }),
    light: (pixel) => frames.light(pixel), place: (pixel) => camera.place(pixel).map((at) => at / ratio()),
    seek: (seconds) => clock.seek(seconds), coarser: () => { state.quality = 0.5; }, about,
  };
}

function lightOn(canvas, places) {
  const exact = !about.fidelity.luma;
  if (location.hash === "#plain" || location.hash !== "#gl" && drawnByProcessor()) return new PlainLight(canvas, places, exact);
  try { return new Light(canvas, places, exact); } catch (fault) {
    state.plain = fault.message;
    const fresh = canvas.cloneNode(true);
    canvas.replaceWith(fresh);
    return new PlainLight(fresh, places, exact);
  }
}

// Whether WebGL2 is there but drawn by the processor; then the plain canvas shows the same in a fraction of the time.
function drawnByProcessor() {
  const gl = document.createElement("canvas").getContext("webgl2"), told = gl?.getExtension("WEBGL_debug_renderer_info");
  const name = gl ? String(gl.getParameter(told ? told.UNMASKED_RENDERER_WEBGL : gl.RENDERER)) : "";
  gl?.getExtension("WEBGL_lose_context")?.loseContext();
  return /swiftshader|llvmpipe|softpipe|software|basic render/i.test(name);
}

function photo() {
  const url = about.photo ? fileOf("photo", "image/jpeg") : "";
  if (!url) return null;
  const picture = new Image();
  picture.src = url;
  return picture.decode().then(() => picture, () => null);
}

const ratio = () => Math.min(devicePixelRatio || 1, 2) * state.sharp;

function fit(page) {
  const stage = $("stage"), width = Math.max(1, Math.round(stage.clientWidth * ratio())), height = Math.max(1, Math.round(stage.clientHeight * ratio()));
  for (const canvas of [$("scene"), $("marks")]) [canvas.width, canvas.height] = [width, height];
  page.camera.resize(width, height);
  page.light.resize(width, height);
  const view = page.camera.name;
  page.camera.name = "front";
  page.light.setBehind(shapeOf(about, page.camera), photoOf(about, page.picture, page.camera));
  page.camera.name = view;
  page.ribbon.paint();
  state.dirty = true;
}

// The frame at a moment: the last one begun; in a picture a bar, the one in which the bar began. -1 is darkness.
function frameAt(page, seconds) {
  const bar = page.ribbon.bar(seconds), at = state.barByBar && bar ? about.bars[bar - 1] : seconds;
  if (at < about.start - 1e-3 || at >= about.end) return -1;
  return Math.min(about.frames - 1, Math.floor((at - about.start) * about.rate + 1e-3));
}

function turn(page, time) {
  requestAnimationFrame((next) => turn(page, next));
  const { clock, camera, frames } = page;
  clock.turn();
  // What stands still is drawn as finely as it can be.
  const sharp = clock.playing ? state.quality : 1;
  if (sharp !== state.sharp) { state.sharp = sharp; fit(page); }
  const seconds = clock.position, frame = frameAt(page, seconds), moved = camera.advance(time);
  if (clock.playing && frame >= 0) frames.load(frames.chunkOf(frame) + 1);
  if (frame === state.frame && !moved && !state.dirty) return tell(page, seconds);
  const colours = frame < 0 ? page.dark ??= new Uint8Array(4 * about.pixels) : frames.at(frame);
  if (!colours) return tell(page, seconds);
  const before = performance.now();
  page.light.draw(colours, camera.now, 1 - Math.floor(camera.size[1] * GROUND) / camera.size[1]);
  if (moved || state.dirty) mark(page);
  Object.assign(state, { frame, drawn: state.drawn + 1, dirty: false, ready: true, heard: page.audio ? page.audio.currentTime : seconds });
  spare(page, time, performance.now() - before);
  tell(page, seconds);
}

// A machine that cannot keep up gets a coarser picture rather than fewer of them, and a finer one again when it can.
function spare(page, time, cost) {
  const late = page.clock.playing && state.last && (time - state.last > 45 || cost > 34);
  state.slow = late ? state.slow + 1 : Math.max(0, state.slow - 0.5);
  state.last = page.clock.playing ? time : 0;
  if (state.slow > 6 && state.quality > 0.5) { state.quality = Math.max(0.5, state.quality * 0.75); state.slow = 0; }
  state.eased = late || cost > 11 ? 0 : (state.eased || 0) + 1;
  if (state.eased > 160 && state.quality < 1) { state.quality = Math.min(1, state.quality / 0.75); state.eased = 0; }
}

function tell(page, seconds) {
  const { bar, part } = page.ribbon.point(seconds, page.clock.loop);
  put("clock", timeText(seconds));
  put("bar", about.bars.length ? `bar ${bar} of ${about.bars.length}` : "");
  put("part", part);
  if (document.body.classList.contains("listing")) listCues(page, seconds);
}

function put(id, text) { if ($(id).textContent !== text) $(id).textContent = text; }

addEventListener("error", (event) => { put("sub", `This page has a fault: ${event.message}`); });
start().catch((fault) => { put("sub", `This page cannot be shown here: ${fault.message}`); console.error(fault); });
