// The song as a ribbon: its own light, moment by moment; sections above, bars and beats below.
export function timeText(seconds) {
  const tenths = Math.round(Math.max(0, seconds) * 10);
  return `${Math.floor(tenths / 600)}:${String(Math.floor(tenths / 10) % 60).padStart(2, "0")}.${tenths % 10}`;
}

const BREATH = 0.1;  // seconds

export class Ribbon {
  constructor(about, box) {
    Object.assign(this, { about, box, canvas: box.querySelector("canvas"), head: box.querySelector("#ribbon-head") });
    this.loopMark = box.querySelector("#ribbon-loop");
    box.setAttribute("aria-valuemax", about.seconds.toFixed(1));
    const point = (event) => this.sought?.((event.clientX - box.getBoundingClientRect().left) / box.clientWidth * about.seconds);
    box.addEventListener("pointerdown", (event) => { box.setPointerCapture(event.pointerId); this.held = true; point(event); });
    box.addEventListener("pointermove", (event) => { if (this.held) point(event); });
    for (const end of ["pointerup", "pointercancel"]) box.addEventListener(end, () => { this.held = false; });
  }

  // Bars from 1; 0 in the pickup. What is a breath before the first bar is no pickup.
  bar(seconds) {
    const { bars } = this.about;
    let low = 0, high = bars.length;
    while (low < high) { const middle = (low + high) >> 1; if (bars[middle] <= seconds + 1e-4) low = middle + 1; else high = middle; }
    return low || (bars[0] < BREATH ? 1 : 0);
  }

  // What people call a bar: what comes before the first one is the pick-up.
  barText(bar) { return bar ? `bar ${bar} of ${this.about.bars.length}` : "pick-up"; }

  // Where the first frame begins from a moment on: the one before still shows what was before.
  first(seconds) { return this.about.start + Math.ceil((seconds - this.about.start) * this.about.rate - 1e-3) / this.about.rate; }

  section(seconds) { return this.about.sections.find(([start, end]) => seconds >= start && seconds < end)?.[2] ?? ""; }

  paint() {
    const { about, canvas } = this, ratio = Math.min(devicePixelRatio || 1, 2);
    const width = canvas.width = Math.round(canvas.clientWidth * ratio), height = canvas.height = Math.round(canvas.clientHeight * ratio);
    const pen = canvas.getContext("2d"), x = (seconds) => seconds / about.seconds * width, top = 20 * ratio, foot = height - 9 * ratio;
    pen.clearRect(0, 0, width, height);
    about.glow.forEach(([r, g, b], i, all) => {
      const left = x(about.start + i / all.length * (about.end - about.start)), right = x(about.start + (i + 1) / all.length * (about.end - about.start));
      const full = Math.max(r, g, b) / 255, tall = (foot - top) * (0.06 + 0.94 * Math.min(1, full * 1.25));
      pen.fillStyle = `rgb(${lift(r, full)},${lift(g, full)},${lift(b, full)})`;
      pen.fillRect(left, foot - tall, Math.max(1, right - left + 0.5), tall);
    });
    this.paintBeats(pen, x, foot, height, ratio);
    this.paintSections(pen, x, top, foot, ratio);
    pen.fillStyle = "#f3c98b";
    for (const at of this.remarks ?? []) {
      pen.beginPath();
      pen.arc(x(at), top + 3 * ratio, 4 * ratio, 0, 2 * Math.PI);
      pen.fill();
    }
  }

  paintBeats(pen, x, foot, height, ratio) {
    const { beats, bars, seconds } = this.about, wide = x(seconds);
    pen.fillStyle = "#7d89a8";
    if (wide / Math.max(1, beats.length) > 4 * ratio) for (const at of beats) pen.fillRect(x(at), foot + 2 * ratio, ratio * 0.75, 3 * ratio);
    const every = [1, 2, 4, 8, 16, 32].find((step) => wide / Math.max(1, bars.length) * step > 5 * ratio) ?? 64;
    pen.fillStyle = "#c3cbe0";
    bars.forEach((at, i) => { if (i % every === 0) pen.fillRect(x(at), foot + 2 * ratio, ratio, height - foot - 2 * ratio); });
  }

  paintSections(pen, x, top, foot, ratio) {
    pen.font = `italic ${12 * ratio}px Georgia, serif`;
    pen.textBaseline = "middle";
    for (const [start, end, label] of this.about.sections) {
      const left = x(start), right = x(end);
      pen.fillStyle = "#141b31";
      pen.fillRect(left + ratio / 2, 0, right - left - ratio, top - 3 * ratio);
      pen.fillStyle = "#d6dcec";
      if (pen.measureText(label).width < right - left - 10 * ratio) pen.fillText(label, left + 6 * ratio, (top - 3 * ratio) / 2);
      pen.fillStyle = "#ffffff30";
      pen.fillRect(left, 0, ratio, foot);
    }
  }

  // Where the song is, and the loop.
  point(seconds, loop) {
    const { about, box } = this, bar = this.bar(seconds), part = this.section(seconds);
    this.head.style.left = `${seconds / about.seconds * 100}%`;
    this.loopMark.hidden = !loop;
    if (loop) [this.loopMark.style.left, this.loopMark.style.width] = [loop[0], loop[1] - loop[0]].map((s) => `${s / about.seconds * 100}%`);
    box.setAttribute("aria-valuenow", seconds.toFixed(1));
    box.setAttribute("aria-valuetext", [timeText(seconds), about.bars.length ? this.barText(bar) : "", part].filter(Boolean).join(", "));
    return { bar, part };
  }
}

// A colour as bright as the ribbon shows it: its hue, and light that can be told apart even where it is faint.
const lift = (value, full) => Math.round(full ? value / full * (0.3 + 0.7 * Math.min(1, full * 1.6)) : 0);
