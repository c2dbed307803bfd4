// What the lights spill on the ground: a map of it round the house, in cells. As ground.py has it.
export const SPREADS = [[0.7, 0.3], [2.4, 0.3]];
const HIGH_FROM = 1.5, BEYOND = 8, CELL = 0.4, MOST_CELLS = 128;

export function mapOf(places, height) {
  const low = [Infinity, Infinity], high = [-Infinity, -Infinity];
  for (let i = 0; i < places.length; i += 3) [0, 2].forEach((axis, k) => { low[k] = Math.min(low[k], places[i + axis]); high[k] = Math.max(high[k], places[i + axis]); });
  const across = low.map((at, k) => high[k] - at + 2 * BEYOND), cell = Math.max(CELL, Math.max(...across) / (MOST_CELLS - 2));
  const [wide, deep] = across.map((each) => Math.floor(each / cell) + 2);
  return { low: low.map((at) => at - BEYOND), cell, wide, deep, height };
}

// Which of the two spreads a light has: 0 for low, 1 for high ones.
export const spreadOf = (map, y) => (y - map.height > HIGH_FROM ? 1 : 0);
