// What stands behind the lights in the street view, drawn once for each size: the dark house, stars, the photo.
export function shapeOf(about, camera) {
  const canvas = document.createElement("canvas"), [width, height] = camera.size, { scale, left, top } = camera.aim();
  [canvas.width, canvas.height] = [width, height];
  const pen = canvas.getContext("2d"), random = scatter(17);
  pen.fillStyle = "#000";
  pen.fillRect(0, 0, width, height);
  const size = Math.max(1, Math.round(Math.min(width, height) / 700));
  for (let i = 0; i < 130; i++) {
    const bright = 0.1 + 0.9 * random() ** 3;
    pen.fillStyle = `rgb(0,${Math.round(255 * bright)},0)`;
    pen.fillRect(Math.floor(random() * width), Math.floor(random() ** 1.5 * 0.66 * height), size, size);
  }
  pen.fillStyle = "#f00";
  for (const outline of about.photo ? [] : about.outlines) {
    pen.beginPath();
    for (let i = 0; i < outline.length; i += 2) pen.lineTo(left + outline[i] * scale, top - outline[i + 1] * scale);
    pen.fill();
  }
  return canvas;
}

export function scatter(state) {
  return () => { state = Math.imul(state ^ state >>> 15, 0x2c1b3c6d) + 0x9e3779b9 | 0; return ((state ^ state >>> 12) >>> 0) / 2 ** 32; };
}

// The photo lies on the house frame; its edges fade.
export function photoOf(about, picture, camera) {
  if (!picture) return null;
  const canvas = document.createElement("canvas"), { scale, left, top } = camera.aim(), [across, up] = about.box;
  [canvas.width, canvas.height] = camera.size;
  const pen = canvas.getContext("2d"), wide = across * scale, tall = up * scale;
  pen.drawImage(picture, left, top - tall, wide, tall);
  pen.globalCompositeOperation = "destination-in";
  for (const [x0, y0, x1, y1, edge] of [[left, 0, left + wide, 0, 0.06], [0, top - tall, 0, top, 0.06]]) {
    const fade = pen.createLinearGradient(x0, y0, x1, y1);
    for (const [at, alpha] of [[0, 0], [edge, 1], [1 - edge, 1], [1, 0]]) fade.addColorStop(at, `rgba(0,0,0,${alpha})`);
    pen.fillStyle = fade;
    pen.fillRect(0, 0, canvas.width, canvas.height);
  }
  return canvas;
}
