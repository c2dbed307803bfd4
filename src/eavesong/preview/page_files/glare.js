// How bright each light looks: near ones brighter, and many that are seen in one spot held. As glare.py has it.
import { HIDDEN, placed } from "./camera.js";

const BRIGHT = 1.5, DIM = 0.5, SQUARE = 12, CROWD = 40, SMOOTH = [1 / 16, 4 / 16, 6 / 16, 4 / 16, 1 / 16];

export function looksOf(view, places, [width, height]) {
  const n = places.length / 3, cell = SQUARE * Math.max(Math.min(width / 1280, height / 720), 0.1);
  const wide = Math.floor(width / cell) + 6, tall = Math.floor(height / cell) + 6, looks = new Float32Array(n), columns = new Float32Array(n), rows = new Float32Array(n);
  const depths = new Float32Array(n);
  for (let i = 0; i < n; i++) [columns[i], rows[i], depths[i]] = placed(view, places[3 * i], places[3 * i + 1], places[3 * i + 2]);
  const usual = middleOf(depths.filter((depth) => depth > HIDDEN));
  for (let i = 0; i < n; i++) looks[i] = depths[i] > HIDDEN ? Math.min(BRIGHT, Math.max(DIM, usual / depths[i])) : 0;
  let total = new Float32Array(wide * tall);
  const round = (i, act) => {
    const x = Math.min(Math.max(columns[i] / cell + 2.5, 0), wide - 2), y = Math.min(Math.max(rows[i] / cell + 2.5, 0), tall - 2);
    const left = Math.floor(x), top = Math.floor(y), over = x - left, down = y - top, first = top * wide + left;
    act(first, (1 - over) * (1 - down)); act(first + 1, over * (1 - down)); act(first + wide, (1 - over) * down); act(first + wide + 1, over * down);
  };
  for (let i = 0; i < n; i++) round(i, (at, part) => { total[at] += part * looks[i]; });
  total = smoothed(smoothed(total, 1), wide);
  return looks.map((look, i) => {
    let crowd = 0;
    round(i, (at, part) => { crowd += total[at] * part; });
    return look / Math.sqrt(1 + (crowd / SMOOTH[2] ** 2 / CROWD) ** 2);
  });
}

function smoothed(values, step) {
  const out = new Float32Array(values.length);
  SMOOTH.forEach((part, k) => { for (let i = Math.max(0, (2 - k) * step), to = values.length - Math.max(0, (k - 2) * step); i < to; i++) out[i] += part * values[i + (k - 2) * step]; });
  return out;
}

function middleOf(values) {
  const sorted = Float32Array.from(values).sort(), half = sorted.length >> 1;
  return sorted.length ? (sorted.length & 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2) : 1;
}
