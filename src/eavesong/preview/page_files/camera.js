// Where the house is seen from; the same projection as view.py, in picture elements of the canvas.
export const HIDDEN = 0.3;
const MARGIN = 0.05, SKY = 0.10, GROUND = 0.09, MOST_SKY = 0.35, AROUND = 3.2, AFAR = 60, ROOM = 0.04, REACH = 0.75;
const RADIANS = Math.PI / 180, CORNER = [32 * RADIANS, 24 * RADIANS], CLOSEST = 16;

// To the right, upwards and towards the eye, three by three.
function axesOf(turn, rise) {
  const [ct, st, cr, sr] = [Math.cos(turn), Math.sin(turn), Math.cos(rise), Math.sin(rise)];
  return [ct, 0, -st, -st * sr, cr, -ct * sr, st * cr, sr, ct * cr];
}

// How far to the right and up a place is seen, in metres at one metre away, and how deep it lies.
export function slopeOf({ eye, axes }, x, y, z) {
  const [a, b, c] = [x - eye[0], y - eye[1], z - eye[2]], depth = -(axes[6] * a + axes[7] * b + axes[8] * c), by = Math.abs(depth) > 1e-6 ? depth : 1e-6;
  return [(axes[0] * a + axes[1] * b + axes[2] * c) / by, (axes[3] * a + axes[4] * b + axes[5] * c) / by, depth];
}

// Column and row of a place, and its depth.
export function placed(view, x, y, z) {
  const [right, up, depth] = slopeOf(view, x, y, z), bent = 1 + view.bend * (right * right + up * up);
  return depth > HIDDEN ? [view.column + right * bent * view.focal, view.row - up * bent * view.focal, depth] : [-1e4, -1e4, depth];
}

export class Camera {
  constructor(house, places, calm) {
    Object.assign(this, { house, places, calm, name: "street", turn: CORNER[0], rise: CORNER[1], size: [1, 1], head: [0, 0], moving: null, version: 0 });
    const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
    for (let i = 0; i < places.length; i++) { low[i % 3] = Math.min(low[i % 3], places[i]); high[i % 3] = Math.max(high[i % 3], places[i]); }
    this.middle = low.map((at, axis) => (at + high[axis]) / 2);
    this.half = Math.max(0.5, Math.hypot(...low.map((at, axis) => high[axis] - at)) / 2);
    this.front = high[2];
    this.unzoom();
    this.now = this.aim();
  }

  unzoom() { this.zoom = { near: 1, x: 0, y: 0 }; }

  // What a view is made of, in numbers between which one can move: turn and rise, where the eye is from the middle, and
  // how much sky is left, more where the words at the top would stand over lights.
  stand() {
    const stand = { ...this.stood(), sky: SKY }, [wide, tall] = this.head, sky = tall / this.size[1] + MARGIN / 2;
    if (this.name === "orbit" || sky <= SKY || sky > MOST_SKY) return stand;
    const view = this.fitted(stand), { places: p } = this;
    for (let i = 0; i < p.length; i += 3) {
      const [column, row, depth] = placed(view, p[i], p[i + 1], p[i + 2]);
      if (depth > HIDDEN && column < wide && row < tall) return { ...stand, sky };
    }
    return stand;
  }

  stood() {
    const { name, half, middle, house: { sight } } = this;
    if (name === "street") return { turn: 0, rise: 0, right: sight.eye[0] - middle[0], up: sight.eye[1] - middle[1], away: Math.log(sight.eye[2] - middle[2]), street: 1 };
    const [turn, rise, far] = name === "plan" ? [0, Math.PI / 2, AFAR] : name === "corner" ? [...CORNER, AROUND] : [this.turn, this.rise, AROUND];
    return { turn, rise, right: 0, up: 0, away: Math.log(half * far), street: 0 };
  }

  get throughPhoto() { return this.name === "street" && Boolean(this.house.sight.camera); }

  aim() { return this.zoomed(this.throughPhoto ? this.photographed() : this.fitted(this.stand())); }

  // Scaled and shifted so that all lights lie in the picture.
  fitted(stand) {
    const axes = axesOf(stand.turn, stand.rise), away = Math.exp(stand.away), { places: p, house: { sight } } = this, [width, height] = this.size;
    const eye = this.middle.map((at, i) => at + axes[i] * stand.right + axes[3 + i] * stand.up + axes[6 + i] * away), bare = { eye, axes };
    let [l, r, b, t] = [Infinity, -Infinity, Infinity, -Infinity];
    for (let i = 0; i < p.length; i += 3) {
      const [right, up, depth] = slopeOf(bare, p[i], p[i + 1], p[i + 2]);
      if (depth > HIDDEN) [l, r, b, t] = [Math.min(l, right), Math.max(r, right), Math.min(b, up), Math.max(t, up)];
    }
    if (l > r) [l, r, b, t] = [-1, 1, -1, 1];
    if (stand.street) b += stand.street * (Math.min(b, (sight.ground - eye[1]) / Math.max(1, eye[2] - this.front)) - b);
    const free = height * (1 - stand.sky - GROUND), across = Math.max(r - l, 1e-6), high = Math.max(t - b, 1e-6);
    let focal = Math.min(width * (1 - 2 * MARGIN) / across, free / high);
    if (stand.street === 1 && sight.field) focal = width / 2 / Math.tan(sight.field * RADIANS / 2);
    const foot = height * (1 - GROUND) - (free - high * focal) * (0.5 - 0.15 * stand.street);
    return { eye, axes, focal, column: width / 2 - (l + r) / 2 * focal, row: foot + b * focal, bend: 0 };
  }

  // What the camera of the photo sees, and where the photo lies.
  photographed() {
    const { places: p, house: { sight: { camera } } } = this, axes = camera.axes.flat();
    const own = { eye: camera.eye, axes, focal: camera.focal, column: camera.centre[0], row: camera.centre[1], bend: camera.bend };
    const low = [Infinity, Infinity], high = [-Infinity, -Infinity], whole = [1, camera.tall];
    for (let i = 0; i < p.length; i += 3) {
      const at = placed(own, p[i], p[i + 1], p[i + 2]);
      if ([0, 1].some((k) => at[k] < -REACH * whole[k] || at[k] > (1 + REACH) * whole[k])) continue;
      for (const k of [0, 1]) { low[k] = Math.min(low[k], at[k]); high[k] = Math.max(high[k], at[k]); }
    }
    if (low[0] > high[0]) { low.fill(0); high[0] = whole[0]; high[1] = whole[1]; }
    const scales = this.size.map((side, k) => side / whole[k]);
    const fit = Math.min(...this.size.map((side, k) => (1 - 2 * ROOM) * side / Math.max(high[k] - low[k], 1e-6)));
    const beside = [0, 1].some((k) => low[k] < 0 || high[k] > whole[k]);
    const wide = Math.min(Math.max(fit, beside ? 0 : Math.min(...scales)), Math.max(...scales));
    const [left, top] = this.size.map((side, k) => {
      const over = side - whole[k] * wide, middle = side / 2 - (low[k] + high[k]) / 2 * wide;
      return beside ? middle : over >= 0 ? over / 2 : Math.min(0, Math.max(over, middle));
    });
    return { ...own, focal: camera.focal * wide, column: left + camera.centre[0] * wide, row: top + camera.centre[1] * wide, photo: [left, top, wide, wide * camera.tall] };
  }

  // Nearer, and moved on the canvas, by hand; the row of the horizon.
  zoomed(view) {
    const [width, height] = this.size, { near, x, y } = this.zoom, [ahead, level] = [-view.axes[7], Math.hypot(view.axes[6], view.axes[8])];
    const put = (at, side, off) => (at - side / 2) * near + side / 2 + off * side;
    const made = { ...view, focal: view.focal * near, column: put(view.column, width, x), row: put(view.row, height, y) };
    if (view.photo) made.photo = [put(view.photo[0], width, x), put(view.photo[1], height, y), view.photo[2] * near, view.photo[3] * near];
    return { ...made, horizon: level > 1e-6 ? made.row + made.focal * ahead / level : -Infinity };
  }

  set(view) { this.now = view; this.version++; }

  // head: how far to the right and down words stand over the canvas.
  resize(width, height, head) { Object.assign(this, { size: [width, height], head }); this.moving = null; this.set(this.aim()); }

  look(name) {
    const before = this.throughPhoto, from = this.stand();
    if (name === "orbit" && this.name !== "orbit") [this.turn, this.rise] = CORNER;
    this.name = name;
    this.unzoom();
    this.moving = this.calm || before || this.throughPhoto ? null : { from, since: performance.now() };
    if (!this.moving) this.set(this.aim());
  }

  // A finger or the mouse has moved: an orbit turns, other views are shifted where they are larger than the canvas.
  drag(across, down) {
    this.moving = null;
    if (this.name === "orbit") {
      this.turn = (this.turn - 6 * across / this.size[0]) % (2 * Math.PI);
      this.rise = Math.min(Math.PI / 2, Math.max(0.02, this.rise + 3 * down / this.size[1]));
    } else this.shift(across, down);
    this.set(this.aim());
  }

  shift(across, down) {
    const { zoom } = this, most = Math.max(0, (zoom.near - 1) / 2);
    [zoom.x, zoom.y] = [[zoom.x, across, this.size[0]], [zoom.y, down, this.size[1]]].map(([at, by, side]) => Math.min(most, Math.max(-most, at + by / side)));
  }

  // Nearer by a factor, round a place on the canvas, which stays where it is.
  come(factor, column = this.size[0] / 2, row = this.size[1] / 2) {
    const { zoom } = this, near = Math.min(CLOSEST, Math.max(this.name === "orbit" ? 0.5 : 1, zoom.near * factor)), by = near / zoom.near;
    const moved = (off, at, side) => (at + (side / 2 + off * side - at) * by - side / 2) / side;
    Object.assign(zoom, { near, x: moved(zoom.x, column, this.size[0]), y: moved(zoom.y, row, this.size[1]) });
    this.shift(0, 0);
    this.moving = null;
    this.set(this.aim());
  }

  // Move on; whether anything has changed.
  advance(time) {
    if (!this.moving) return false;
    const share = Math.min(1, Math.max(0, (time - this.moving.since) / 700)), eased = share * share * (3 - 2 * share);
    const aim = this.stand(), from = this.moving.from;
    const between = Object.fromEntries(Object.keys(aim).map((key) => [key, from[key] + (aim[key] - from[key]) * eased]));
    this.set(this.zoomed(this.fitted(between)));
    if (share >= 1) { this.moving = null; this.set(this.aim()); }
    return true;
  }

  // Column and row of a pixel.
  place(pixel) { return placed(this.now, ...this.places.subarray(3 * pixel, 3 * pixel + 3)).slice(0, 2); }

  // The pixel nearest to a place on the canvas, within reach; -1 where there is none.
  nearest(column, row, reach) {
    const p = this.places;
    let best = -1, least = reach * reach;
    for (let i = 0, n = p.length / 3; i < n; i++) {
      const [x, y] = placed(this.now, p[3 * i], p[3 * i + 1], p[3 * i + 2]), away = (x - column) ** 2 + (y - row) ** 2;
      if (away < least) [best, least] = [i, away];
    }
    return best;
  }
}
