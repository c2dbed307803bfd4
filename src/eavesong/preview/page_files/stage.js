// The house as somebody looks at it: its canvases, its camera and its lights, as finely as this machine can draw them.
import { photoOf, shapeOf } from "./behind.js";
import { Camera } from "./camera.js";
import { Light } from "./light.js";
import { PlainLight } from "./plain.js";

export class Stage {
  // box: the element that holds the canvases, scene for the lights and marks for what is drawn over them.
  constructor(box, scene, marks, calm) {
    Object.assign(this, { box, scene, marks, calm, quality: 1, sharp: 1, slow: 0, eased: 0, last: 0, resized: null });
    this.flatter = asked("plain") || !asked("gl") && drawnByProcessor();
    new ResizeObserver(() => { if (this.light) this.fit(); }).observe(box);
  }

  // A house to look at: places in metres, three by three; whether colours are light itself, or its square root; a photo.
  set(house, places, exact, picture) {
    const before = this.camera;
    Object.assign(this, { house, places, picture, camera: new Camera(house, places, this.calm) });
    if (before) Object.assign(this.camera, { name: before.name, turn: before.turn, rise: before.rise, zoom: before.zoom });
    this.light = this.lit(exact);
    this.fit();
  }

  lit(exact) {
    if (this.flatter) return new PlainLight(this.scene, this.places, exact, this.house.sight.ground);
    try { return new Light(this.scene, this.places, exact, this.house.sight.ground); } catch (fault) {
      this.plain = fault.message;
      const fresh = this.scene.cloneNode(true);
      this.scene.replaceWith(fresh);
      this.scene = fresh;
      return new PlainLight(fresh, this.places, exact, this.house.sight.ground);
    }
  }

  get flat() { return this.light instanceof PlainLight; }

  get ratio() { return Math.min(devicePixelRatio || 1, 2) * this.sharp; }

  fit() {
    const { box, camera, ratio } = this, width = Math.max(1, Math.round(box.clientWidth * ratio)), height = Math.max(1, Math.round(box.clientHeight * ratio));
    for (const canvas of [this.scene, this.marks]) [canvas.width, canvas.height] = [width, height];
    camera.resize(width, height, this.covered().map((side) => side * ratio));
    this.light.resize(width, height);
    this.seen = -1;
    this.resized?.();
  }

  // How far to the right and down the page's head stands over the canvas; nothing where it stands elsewhere.
  covered() {
    const head = document.getElementById("head")?.getBoundingClientRect(), own = this.box.getBoundingClientRect();
    return head && head.bottom > own.top && head.top < own.bottom ? [head.right - own.left, head.bottom - own.top] : [0, 0];
  }

  // What stands still is drawn as finely as it can be.
  sharpen(playing) {
    const sharp = playing ? this.quality : 1;
    if (sharp !== this.sharp) { this.sharp = sharp; this.fit(); }
  }

  draw(colours, playing, time) {
    const before = performance.now(), { camera } = this;
    if (this.seen !== camera.version) {
      this.seen = camera.version;
      this.light.setBehind(shapeOf(this.house, camera), photoOf(this.house, this.picture, camera));
      this.light.setLooks(camera.now, camera.size);
    }
    this.light.draw(colours, camera.now);
    this.spare(playing, time, performance.now() - before);
  }

  // A machine that cannot keep up gets a coarser picture rather than fewer of them, and a finer one again when it can.
  spare(playing, time, cost) {
    const late = playing && this.last && (time - this.last > 45 || cost > 34);
    this.slow = late ? this.slow + 1 : Math.max(0, this.slow - 0.5);
    this.last = playing ? time : 0;
    if (this.slow > 6 && this.quality > 0.5) { this.quality = Math.max(0.5, this.quality * 0.75); this.slow = 0; }
    this.eased = late || cost > 11 ? 0 : this.eased + 1;
    if (this.eased > 160 && this.quality < 1) { this.quality = Math.min(1, this.quality / 0.75); this.eased = 0; }
  }

  // Column and row on the canvas of a place of the page.
  onCanvas(x, y) {
    const box = this.scene.getBoundingClientRect();
    return [(x - box.left) * this.ratio, (y - box.top) * this.ratio];
  }

  // The pixel at a place of the page, within reach; -1 where there is none.
  pixelAt(x, y, reach) { return this.camera.nearest(...this.onCanvas(x, y), reach * this.ratio); }

  // Thin rings round the pixels of runs [first, count], in a colour of CSS.
  trace(runs, colour) {
    const pen = this.marks.getContext("2d"), { ratio } = this;
    pen.lineWidth = 1.5 * ratio;
    pen.strokeStyle = colour;
    for (const [first, count] of runs) {
      const step = Math.max(1, Math.floor(count / 4000));
      for (let pixel = first; pixel < first + count; pixel += step) {
        const [x, y] = this.camera.place(pixel);
        pen.beginPath();
        pen.arc(x, y, 3.5 * ratio, 0, 2 * Math.PI);
        pen.globalAlpha = count > 400 ? 0.35 : 0.6;
        pen.stroke();
      }
    }
    pen.globalAlpha = 1;
  }

  // An empty sheet of marks; hidden where nothing is to be drawn on it, since over the scene it costs as much as a full one.
  unmark(hidden) {
    this.marks.hidden = hidden;
    if (!hidden) this.marks.getContext("2d").clearRect(0, 0, this.marks.width, this.marks.height);
  }

  // Pointers on the scene: a tap chooses, a drag turns or shifts, two fingers or the wheel come nearer, in every view.
  hold(moved, tapped) {
    const { scene } = this, held = new Map();
    let gone = 0;
    scene.addEventListener("pointerdown", (event) => { scene.setPointerCapture(event.pointerId); held.set(event.pointerId, event); if (held.size === 1) gone = 0; });
    scene.addEventListener("pointermove", (event) => {
      const before = held.get(event.pointerId), { camera } = this;
      if (!before) return;
      const [across, down] = [event.clientX - before.clientX, event.clientY - before.clientY];
      gone += Math.hypot(across, down);
      if (held.size === 2) {
        const other = [...held.values()].find((each) => each.pointerId !== event.pointerId);
        const span = (each) => Math.hypot(each.clientX - other.clientX, each.clientY - other.clientY);
        camera.come(span(event) / Math.max(1, span(before)), ...this.onCanvas((event.clientX + other.clientX) / 2, (event.clientY + other.clientY) / 2));
        camera.shift(across / 2 * this.ratio, down / 2 * this.ratio);
      } else if (held.size === 1 && gone > 5) camera.drag(across * this.ratio, down * this.ratio);
      held.set(event.pointerId, event);
      moved();
    });
    scene.addEventListener("pointerup", (event) => { if (held.delete(event.pointerId) && gone < 8) tapped(event, this.pixelAt(event.clientX, event.clientY, event.pointerType === "touch" ? 30 : 18)); });
    scene.addEventListener("pointercancel", (event) => held.delete(event.pointerId));
    scene.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.camera.come(Math.exp(-event.deltaY * 0.0015), ...this.onCanvas(event.clientX, event.clientY));
      moved();
    }, { passive: false });
  }
}

// Whether a word stands at the end of the address.
const asked = (word) => location.hash.slice(1).split("&").includes(word);

// Whether WebGL2 is there but drawn by the processor; then the plain canvas shows the same in a fraction of the time.
function drawnByProcessor() {
  const gl = document.createElement("canvas").getContext("webgl2"), told = gl?.getExtension("WEBGL_debug_renderer_info");
  const name = gl ? String(gl.getParameter(told ? told.UNMASKED_RENDERER_WEBGL : gl.RENDERER)) : "";
  gl?.getExtension("WEBGL_lose_context")?.loseContext();
  return /swiftshader|llvmpipe|softpipe|software|basic render/i.test(name);
}
