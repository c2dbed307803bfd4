// Where the house is seen from; the same projection as view.py, in picture elements of the canvas.
const MARGIN = 0.06, SKY = 0.10;
export const GROUND = 0.16;

export function axes(turn, rise) {
  const [ct, st, cr, sr] = [Math.cos(turn), Math.sin(turn), Math.cos(rise), Math.sin(rise)];
  return { right: [ct, 0, -st], up: [-st * sr, cr, -ct * sr] };
}

export const dot = (a, x, y, z) => a[0] * x + a[1] * y + a[2] * z;

export class Camera {
  constructor(places, calm) {
    Object.assign(this, { places, calm, name: "front", turn: 0, rise: 0, near: 1, size: [1, 1], moving: null });
    this.low = [Infinity, Infinity, Infinity];
    this.high = [-Infinity, -Infinity, -Infinity];
    for (let i = 0; i < places.length; i++) {
      this.low[i % 3] = Math.min(this.low[i % 3], places[i]);
      this.high[i % 3] = Math.max(this.high[i % 3], places[i]);
    }
    this.now = this.aim();
  }

  // Turn and rise in radians, scale in picture elements to a metre, where the origin lies, how much of the street view.
  aim() {
    const [width, height] = this.size, front = this.name === "front";
    const [turn, rise] = front ? [0, 0] : this.name === "plan" ? [0, Math.PI / 2] : [this.turn, this.rise];
    const { right, up } = axes(turn, rise), { low, high } = this;
    let [l, r, b, t] = [Infinity, -Infinity, Infinity, -Infinity];
    for (let corner = 0; corner < 8; corner++) {
      const place = [0, 1, 2].map((axis) => (corner >> axis & 1 ? high : low)[axis]);
      const x = dot(right, ...place), y = dot(up, ...place);
      [l, r, b, t] = [Math.min(l, x), Math.max(r, x), Math.min(b, y), Math.max(t, y)];
    }
    if (this.name === "orbit") {
      const reach = Math.hypot(...[0, 1, 2].map((axis) => high[axis] - low[axis])) / 2, [x, y] = [(l + r) / 2, (b + t) / 2];
      [l, r, b, t] = [x - reach, x + reach, y - reach * 0.62, y + reach * 0.62];
    }
    if (front) b = Math.min(b, 0);
    const ground = front ? height - Math.floor(height * GROUND) : height;
    const foot = front ? ground : height * (1 - SKY);
    const fit = Math.min(width * (1 - 2 * MARGIN) / Math.max(r - l, 0.1), (foot - height * SKY) / Math.max(t - b, 0.1));
    const scale = fit * (this.name === "orbit" ? this.near : 1);
    const left = width / 2 - (l + r) / 2 * scale;
    const top = front ? foot + b * scale : (foot + height * SKY) / 2 + (b + t) / 2 * scale;
    return { turn, rise, scale, left, top, street: front ? 1 : 0 };
  }

  resize(width, height) { this.size = [width, height]; this.moving = null; this.now = this.aim(); }

  look(name) {
    if (name === "orbit" && this.name !== "orbit") [this.turn, this.rise, this.near] = [0.55, 0.42, 1];
    this.name = name;
    this.moving = this.calm ? null : { from: this.now, since: performance.now() };
    if (this.calm) this.now = this.aim();
  }

  drag(across, down) {
    this.turn = (this.turn - across * 0.006) % (2 * Math.PI);
    this.rise = Math.min(Math.PI / 2, Math.max(0.02, this.rise + down * 0.005));
    this.moving = null;
    this.now = this.aim();
  }

  come(factor) { this.near = Math.min(8, Math.max(0.5, this.near * factor)); this.moving = null; this.now = this.aim(); }

  // Move on; whether anything has changed.
  advance(time) {
    if (!this.moving) return false;
    const share = Math.min(1, (time - this.moving.since) / 700), eased = share * share * (3 - 2 * share);
    const aim = this.aim(), from = this.moving.from;
    this.now = Object.fromEntries(Object.keys(aim).map((key) => [key, from[key] + (aim[key] - from[key]) * eased]));
    if (share >= 1) this.moving = null;
    return true;
  }

  // Column and row of a pixel.
  place(pixel) {
    const { turn, rise, scale, left, top } = this.now, { right, up } = axes(turn, rise), p = this.places;
    const own = [p[3 * pixel], p[3 * pixel + 1], p[3 * pixel + 2]];
    return [left + dot(right, ...own) * scale, top - dot(up, ...own) * scale];
  }

  // The pixel nearest to a place on the canvas, within reach; -1 where there is none.
  nearest(column, row, reach) {
    const { turn, rise, scale, left, top } = this.now, { right, up } = axes(turn, rise), p = this.places;
    let best = -1, least = reach * reach;
    for (let i = 0, n = p.length / 3; i < n; i++) {
      const x = left + dot(right, p[3 * i], p[3 * i + 1], p[3 * i + 2]) * scale - column;
      const y = top - dot(up, p[3 * i], p[3 * i + 1], p[3 * i + 2]) * scale - row;
      if (x * x + y * y < least) [best, least] = [i, x * x + y * y];
    }
    return best;
  }
}
