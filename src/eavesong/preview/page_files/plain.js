// The same scene without a graphics processor: the same four glows that add up in linear light, drawn by the processor
// on a 2-D canvas. It stands in where there is no WebGL2, and where WebGL2 is itself drawn by the processor, which takes
// several times as long. The numbers and the steps are those of night.py.
import { scatter } from "./behind.js";
import { placed } from "./camera.js";
import { looksOf } from "./glare.js";
import { SPREADS, mapOf, spreadOf } from "./ground.js";
import { EXPOSURE, GLOWS, HINT, MOST, UNLIT, grouped } from "./light.js";

const PHASES = 8, FINE = 1024, MOST_ROOT = 3.3;

// What a screen shows of the square root of light, in steps of 1 / FINE: sRGB (IEC 61966-2-1) of 1 - exp(-light).
const TONE = Uint8Array.from({ length: Math.ceil(MOST_ROOT * FINE) + 8 }, (_, at) => {
  const x = 1 - Math.exp(-((at / FINE) ** 2));
  return Math.round(255 * (x <= 0.0031308 ? 12.92 * x : 1.055 * x ** (1 / 2.4) - 0.055));
});
const GRAIN = Float32Array.from({ length: 4096 }, scatter(5)).map((value) => 3 * (value - 0.5));

// Bells of ``sigma`` elements at PHASES places within an element, each PHASES * count numbers that add up to ``sum``.
function bellsOf(sigma, sum) {
  const reach = sigma ? Math.ceil(2.7 * sigma) : 1, count = 2 * reach + 1, out = new Float32Array(PHASES * count);
  for (let phase = 0; phase < PHASES; phase++) {
    const own = Array.from({ length: count }, (_, tap) => {
      const off = tap - reach + 0.5 - (phase + 0.5) / PHASES;
      return sigma ? Math.exp(-off * off / (2 * sigma * sigma)) : Math.max(0, 1 - Math.abs(off));
    });
    const total = own.reduce((a, b) => a + b);
    own.forEach((value, tap) => { out[phase * count + tap] = value / total * sum; });
  }
  return { count, reach, shares: out };
}

// A canvas halved ``level`` times: red, green and blue one after the other; ``across`` columns.
function canvasOf(width, height, level) {
  const across = Math.ceil(width / 2 ** level / 2) * 2, down = Math.ceil(height / 2 ** level);
  return { across, down, level, light: new Float32Array(3 * across * down) };
}

// Add small, drawn twice as large, to large.
function doubled(small, large) {
  const line = new Float32Array(3 * (small.across + 2)), out = large.light;
  for (let row = 0; row < large.down; row++) {
    halfway(small, row, line);
    const least = Math.min(small.across, large.across >> 1);
    for (let i = 0, o = 3 * row * large.across; i < least; i++, o += 6) {
      for (let c = 0, at = 3 * i + 3; c < 3; c++, at++) {
        out[o + c] += 0.75 * line[at] + 0.25 * line[at - 3];
        out[o + c + 3] += 0.75 * line[at] + 0.25 * line[at + 3];
      }
    }
  }
}

// The light between two rows of a canvas that lies at a row of one twice as large; its ends repeated.
function halfway({ across, down, light }, row, line) {
  const near = Math.min(row >> 1, down - 1), other = Math.min(Math.max(near + (row & 1 ? 1 : -1), 0), down - 1);
  const width = 3 * across, a = near * width, b = other * width;
  for (let i = 0; i < width; i++) line[i + 3] = 0.75 * light[a + i] + 0.25 * light[b + i];
  for (let c = 0; c < 3; c++) [line[c], line[width + 3 + c]] = [line[c + 3], line[width + c]];
}

// Blur a canvas in place, dark outside, by ``along`` and ``downwards`` elements (standard deviations).
function blurred({ across, down, light }, along, downwards) {
  for (const [sigma, step, length] of [[along, 3, 3 * across], [downwards, 3 * across, 3 * across * down]]) {
    const reach = Math.ceil(2.7 * sigma), before = light.slice();
    const half = Array.from({ length: reach + 1 }, (_, i) => Math.exp(-i * i / (2 * Math.max(sigma, 1e-3) ** 2)));
    const total = 2 * half.reduce((a, b) => a + b) - half[0];
    for (let i = 0; i < light.length; i++) light[i] *= half[0] / total;
    for (let tap = 1; tap <= reach; tap++) {
      const share = half[tap] / total, shift = tap * step;
      for (let first = 0; first < light.length; first += length) {
        for (let i = first, end = first + length - shift; i < end; i++) { light[i] += share * before[i + shift]; light[i + shift] += share * before[i]; }
      }
    }
  }
}

export class PlainLight {
  constructor(canvas, places, exact, ground) {
    this.group = Math.ceil(places.length / 3 / MOST);
    this.places = this.group > 1 ? grouped(places, this.group, 3, 3, (x) => x) : places;
    Object.assign(this, { canvas, pen: canvas.getContext("2d", { alpha: false }), count: this.places.length / 3, exact });
    this.linear = Float32Array.from({ length: 256 }, (_, value) => (value / 255) ** (exact ? 1 : 2));
    [this.shape, this.photo] = [null, null];
    this.map = mapOf(this.places, ground);
    this.maps = SPREADS.map(() => canvasOf(this.map.wide, this.map.deep, 0));
    this.looks = new Float32Array(this.count).fill(1);
  }

  setBehind(shape, photo) {
    const seen = (canvas) => canvas && canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
    [this.shape, this.photo, this.seen] = [seen(shape), seen(photo), ""];
  }

  // How bright each light looks from where the eye is now.
  setLooks(view, size) { [this.looks, this.seen] = [looksOf(view, this.places, size), ""]; }

  resize(width, height) {
    this.scale = Math.min(width / 1280, height / 720);
    const sigmas = GLOWS.map(([radius]) => Math.max(radius * this.scale, 0.5));
    const halvings = (sigma) => Math.max(0, Math.floor(Math.log2(sigma / 1.2)));
    const [disc, halo] = sigmas.map(halvings), [bloom, haze] = sigmas.slice(2).map((sigma) => Math.max(1, halvings(sigma)));
    const bell = (glow, level) => bellsOf(sigmas[glow] / 2 ** level, 1);
    this.canvases = Array.from({ length: haze + 1 }, (_, level) => canvasOf(width, height, level));
    this.narrow = [[disc, bell(0, disc), GLOWS[0][1]], [halo, bell(1, halo), GLOWS[1][1]]];
    this.wide = [bloom, haze].map((level, i) => ({ level, sigma: sigmas[i + 2] / 2 ** level, own: canvasOf(width, height, level), one: bellsOf(0, 1) }));
    this.far = new Float32Array(this.canvases[0].light.length);
    this.image = new ImageData(width, height);
    this.words = new Uint32Array(this.image.data.buffer);
    this.at = [new Float32Array(this.count), new Float32Array(this.count)];
    this.light = new Float32Array(3 * this.count);
    this.seen = "";
  }

  draw(colours, view) {
    const { canvases, wide: [bloom, haze] } = this, stands = JSON.stringify(view);
    if (this.seen !== stands) { this.seen = stands; this.stand(view); }
    this.take(colours);
    canvases.forEach(({ light }, level) => { if (level) light.fill(0); else light.set(this.far); });
    for (const { own, one } of [bloom, haze]) { own.light.fill(0); this.stamp(own, one, 1); }
    [bloom, haze].forEach(({ own, sigma, level }, i) => {
      blurred(own, sigma, sigma);
      for (let at = 0, share = GLOWS[i + 2][1]; at < own.light.length; at++) canvases[level].light[at] += share * own.light[at];
    });
    for (let level = haze.level; level > bloom.level; level--) doubled(canvases[level], canvases[level - 1]);
    for (const [level, bell, share] of this.narrow) this.stamp(canvases[level], bell, share);
    this.spill();
    for (let level = bloom.level; level > 1; level--) doubled(canvases[level], canvases[level - 1]);
    this.develop();
    this.pen.putImageData(this.image, 0, 0);
  }

  // Where the lights are, and what is behind them.
  stand(view) {
    const [x, y] = this.at, p = this.places;
    for (let i = 0; i < this.count; i++) [x[i], y[i]] = placed(view, p[3 * i], p[3 * i + 1], p[3 * i + 2]);
    this.behind(Math.max(-1, view.horizon / this.canvas.height));
    this.see(view);
    for (let i = 0; i < this.light.length; i++) this.light[i] = UNLIT * EXPOSURE * this.scale * this.group * this.looks[i / 3 | 0];
    const [level, bell, share] = this.narrow[0];
    if (level !== 0) return;
    const off = new Float32Array(this.far.length);
    this.stamp({ ...this.canvases[0], light: off }, bell, share);
    off.forEach((hint, i) => { this.far[i] = Math.max(this.far[i], Math.min(hint, HINT)); });
  }

  behind(horizon) {
    const { across, down } = this.canvases[0], { width } = this.canvas, { far, shape, photo } = this;
    const earth = [0.0016, 0.0019, 0.0026], low = [0.0040, 0.0056, 0.0125], top = [0.0006, 0.0010, 0.0030], wall = [0.0010, 0.0012, 0.0024];
    const tint = [0.0375, 0.044, 0.0625];
    const base = [0, 0, 0];
    for (let row = 0; row < down; row++) {
      const at = (row + 0.5) / down, rise = Math.min(1, at / Math.max(horizon, 1e-3)) ** 2, fade = 1 - 0.5 * Math.min(1, Math.max(0, (at - horizon) / 0.4));
      const below = Math.min(1, Math.max(0, (at - horizon) * down + 0.5)), above = 1 - below;
      for (let c = 0; c < 3; c++) base[c] = (top[c] + (low[c] - top[c]) * rise) * above + earth[c] * fade * below;
      for (let column = 0, o = 3 * row * across; column < across; column++, o += 3) {
        const i = 4 * (Math.min(row, this.canvas.height - 1) * width + Math.min(column, width - 1)), shown = photo ? photo[i + 3] / 255 : 0;
        const house = shape ? shape[i] / 255 : 0, tone = shape ? shape[i + 2] / 100 : 0, star = shape ? 0.11 * shape[i + 1] / 255 * above : 0;
        for (let c = 0; c < 3; c++) {
          let value = (base[c] + star) * (1 - house) + wall[c] * tone;
          if (shown) value += ((photo[i + c] / 255) ** 2.2 * tint[c] - value) * shown;
          far[o + c] = value;
        }
      }
    }
  }

  // Which cells of the map of the ground each element of a coarse canvas shows, and how much of each.
  see({ eye, axes, focal, column, row }) {
    const level = Math.min(2, this.wide[0].level), { across, down } = this.canvases[level], step = 2 ** level, { map, shape } = this, found = [];
    for (let y = 0; y < down; y++) {
      for (let x = 0; x < across; x++) {
        const right = ((x + 0.5) * step - column) / focal, up = (row - (y + 0.5) * step) / focal;
        const ray = [0, 1, 2].map((k) => axes[k] * right + axes[3 + k] * up - axes[6 + k]);
        if (ray[1] >= -1e-6) continue;
        const away = (eye[1] - map.height) / -ray[1], u = (eye[0] + away * ray[0] - map.low[0]) / map.cell, v = (eye[2] + away * ray[2] - map.low[1]) / map.cell;
        if (u < 0 || v < 0 || u >= map.wide - 1 || v >= map.deep - 1) continue;
        const free = shape ? 1 - this.hidden(x * step, y * step, step) : 1, left = u | 0, back = v | 0, over = u - left, fore = v - back;
        if (free > 0) found.push(3 * (y * across + x), back * this.maps[0].across + left, free * (1 - over) * (1 - fore), free * over * (1 - fore), free * (1 - over) * fore, free * over * fore);
      }
    }
    this.ground = { level, found: Float64Array.from(found) };
    const bright = EXPOSURE * this.scale;
    this.falls = Float32Array.from({ length: this.count }, (_, i) => (this.looks[i] ? SPREADS[spreadOf(map, this.places[3 * i + 1])][1] / (bright * this.looks[i]) : 0));
  }

  // How much house there is in a square of the canvas.
  hidden(left, top, step) {
    const { width, height } = this.canvas;
    let sum = 0, count = 0;
    for (let y = top; y < Math.min(top + step, height); y++) for (let x = left; x < Math.min(left + step, width); x++) { sum += this.shape[4 * (y * width + x)]; count++; }
    return count ? sum / count / 255 : 0;
  }

  // The light of a frame, times what it is brighter than white.
  take(colours) {
    const { light, linear, group, looks } = this, bright = EXPOSURE * this.scale;
    if (group > 1) { light.set(grouped(colours, group, 4, 3, (value) => linear[value]).filter((_, at) => at % 4 < 3)); }
    for (let i = 0, o = 0; i < light.length; i += 3, o += 4) {
      const own = bright * looks[i / 3 | 0];
      if (group > 1) for (let c = 0; c < 3; c++) light[i + c] *= own * group;
      else { light[i] = own * linear[colours[o]]; light[i + 1] = own * linear[colours[o + 1]]; light[i + 2] = own * linear[colours[o + 2]]; }
    }
  }

  // Every light that is on as a bell; those at the very edge, whose bells reach beyond it, are left out.
  stamp({ across, down, level, light: out }, { count, reach, shares }, share) {
    const { light } = this, [xs, ys] = this.at, scale = 1 / 2 ** level, bright = share * scale * scale;
    for (let n = 0, i = 0; n < this.count; n++, i += 3) {
      const r = light[i] * bright, g = light[i + 1] * bright, b = light[i + 2] * bright;
      if (r + g + b === 0) continue;
      const x = xs[n] * scale, y = ys[n] * scale, left = Math.floor(x), top = Math.floor(y);
      if (left < reach || top < reach || left + reach >= across || top + reach >= down) continue;
      const beside = ((x - left) * PHASES | 0) * count, below = ((y - top) * PHASES | 0) * count;
      for (let row = 0; row < count; row++) {
        const upright = shares[below + row];
        for (let tap = 0, o = 3 * ((top - reach + row) * across + left - reach); tap < count; tap++, o += 3) {
          const weight = upright * shares[beside + tap];
          out[o] += weight * r; out[o + 1] += weight * g; out[o + 2] += weight * b;
        }
      }
    }
  }

  // What the lights spill on the ground: gathered on the map of it, spread, and seen as the eye sees the ground.
  spill() {
    const { map, maps, places, light, falls, ground: { level, found } } = this, wide = maps[0].across;
    for (const { light: own } of maps) own.fill(0);
    for (let n = 0, i = 0; n < this.count; n++, i += 3) {
      if (light[i] + light[i + 1] + light[i + 2] === 0) continue;
      const u = (places[i] - map.low[0]) / map.cell, v = (places[i + 2] - map.low[1]) / map.cell, left = u | 0, back = v | 0, over = u - left, fore = v - back;
      const own = maps[spreadOf(map, places[i + 1])].light, first = 3 * (back * wide + left);
      for (const [o, part] of [[first, (1 - over) * (1 - fore)], [first + 3, over * (1 - fore)], [first + 3 * wide, (1 - over) * fore], [first + 3 * wide + 3, over * fore]]) {
        const share = part * falls[n];
        own[o] += share * light[i]; own[o + 1] += share * light[i + 1]; own[o + 2] += share * light[i + 2];
      }
    }
    maps.forEach((own, spread) => blurred(own, SPREADS[spread][0] / map.cell, SPREADS[spread][0] / map.cell));
    const [{ light: low }, { light: high }] = maps, out = this.canvases[level].light;
    for (let k = 0; k < found.length; k += 6) {
      const o = found[k], a = 3 * found[k + 1], b = a + 3 * wide;
      for (let c = 0; c < 3; c++) {
        out[o + c] += found[k + 2] * (low[a + c] + high[a + c]) + found[k + 3] * (low[a + 3 + c] + high[a + 3 + c])
          + found[k + 4] * (low[b + c] + high[b + c]) + found[k + 5] * (low[b + 3 + c] + high[b + 3 + c]);
      }
    }
  }

  // Light to bytes: what burns out bleeds to white, then the tone curve, with grain so that slow gradients show no steps.
  develop() {
    const [canvas, half] = this.canvases, { width, height } = this.image, { words } = this, { light } = canvas;
    const line = new Float32Array(3 * (half.across + 2));
    for (let row = 0; row < height; row++) {
      halfway(half, row, line);
      for (let column = 0, o = 3 * row * canvas.across, out = row * width, noise = row * 61; column < width; column++, o += 3, out++) {
        const at = 3 * (column >> 1) + 3, side = column & 1 ? at + 3 : at - 3;
        const r = light[o] + 0.75 * line[at] + 0.25 * line[side];
        const g = light[o + 1] + 0.75 * line[at + 1] + 0.25 * line[side + 1];
        const b = light[o + 2] + 0.75 * line[at + 2] + 0.25 * line[side + 2];
        const most = r > g ? (r > b ? r : b) : g > b ? g : b, white = most > 1 ? 0.12 * (most - 1) : 0;
        const grain = GRAIN[noise + column * 7 & 4095];
        words[out] = shown(r + white, grain) | shown(g + white, grain) << 8 | shown(b + white, grain) << 16 | 0xff000000;
      }
    }
  }
}

function shown(light, grain) {
  const at = Math.sqrt(light) * FINE + grain;
  return TONE[at < MOST_ROOT * FINE ? at | 0 : MOST_ROOT * FINE | 0];
}
