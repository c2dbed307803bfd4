// What stands behind the lights: the dark house, stars, the photo; drawn anew whenever the eye moves.
import { placed } from "./camera.js";

// Red: how much is house; green: stars; blue: how light the house is, 100 for a wall towards the street.
export function shapeOf(house, camera) {
  const canvas = document.createElement("canvas"), [width, height] = camera.size, view = camera.now, photo = camera.name === "street" && house.photo;
  [canvas.width, canvas.height] = [width, height];
  const pen = canvas.getContext("2d", { willReadFrequently: true }), random = scatter(17);
  pen.fillStyle = "#000";
  pen.fillRect(0, 0, width, height);
  const size = Math.max(1, Math.round(Math.min(width, height) / 700));
  for (let i = 0; i < 130; i++) {
    const bright = 0.1 + 0.9 * random() ** 3, across = random(), down = random() ** 1.5 * 0.8 * view.horizon;
    pen.fillStyle = `rgb(0,${Math.round(255 * bright)},0)`;
    if (down > 0) pen.fillRect(Math.floor(across * width), Math.floor(down), size, size);
  }
  const faces = house.sight.faces.map(([tone, ...flat]) => {
    const corners = [];
    for (let i = 0; i < flat.length; i += 3) corners.push(placed(view, flat[i], flat[i + 1], flat[i + 2]));
    return { tone, corners, depth: corners.reduce((sum, corner) => sum + corner[2], 0) / corners.length };
  });
  for (const { tone, corners } of faces.sort((a, b) => b.depth - a.depth)) {
    if (corners.some((corner) => corner[2] < 0.3)) continue;
    pen.fillStyle = `rgb(255,0,${photo ? 0 : Math.min(255, Math.round(100 * tone))})`;
    pen.beginPath();
    for (const [x, y] of corners) pen.lineTo(x, y);
    pen.fill();
  }
  return canvas;
}

export function scatter(state) {
  return () => { state = Math.imul(state ^ state >>> 15, 0x2c1b3c6d) + 0x9e3779b9 | 0; return ((state ^ state >>> 12) >>> 0) / 2 ** 32; };
}

// The photo as its camera or the layout places it, seen from the street alone; its edges fade.
export function photoOf(house, picture, camera) {
  const view = camera.now, box = house.sight.photo_box;
  if (!picture || camera.name !== "street" || camera.moving || !(view.photo || box)) return null;
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = camera.size;
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  let [left, top, wide, tall] = view.photo ?? [];
  if (!view.photo) {
    const [[x0, y0], [x1, y1]] = box.map((corner) => placed(view, ...corner));
    [left, top, wide, tall] = [x0, y1, x1 - x0, y0 - y1];
  }
  pen.drawImage(picture, left, top, wide, tall);
  pen.globalCompositeOperation = "destination-in";
  for (const [x0, y0, x1, y1, edge] of [[left, 0, left + wide, 0, 0.06], [0, top, 0, top + tall, 0.06]]) {
    const fade = pen.createLinearGradient(x0, y0, x1, y1);
    for (const [at, alpha] of [[0, 0], [edge, 1], [1 - edge, 1], [1, 0]]) fade.addColorStop(at, `rgba(0,0,0,${alpha})`);
    pen.fillStyle = fade;
    pen.fillRect(0, 0, canvas.width, canvas.height);
  }
  return canvas;
}
