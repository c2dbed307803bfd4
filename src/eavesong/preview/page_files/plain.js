// The same scene without WebGL2: squares of light that add up on a 2-D canvas, and a small copy drawn large as glow.
class PlainLight {
  constructor(canvas, places, exact) {
    Object.assign(this, { canvas, pen: canvas.getContext("2d", { alpha: false }), count: places.length / 3, exact });
    this.small = document.createElement("canvas");
    this.camera = null;
    this.walls = this.picture = null;
  }

  setBehind(shape, photo) { [this.walls, this.picture] = [shape, photo]; }

  resize(width, height) {
    this.scale = Math.min(width / 1280, height / 720);
    [this.small.width, this.small.height] = [Math.ceil(width / 6), Math.ceil(height / 6)];
  }

  draw(colours, view, ground) {
    const { pen, canvas, small } = this, { width, height } = canvas;
    pen.globalCompositeOperation = "source-over";
    const sky = pen.createLinearGradient(0, 0, 0, height * ground);
    sky.addColorStop(0, "#02030a");
    sky.addColorStop(1, view.street ? "#0d1020" : "#02030a");
    pen.fillStyle = sky;
    pen.fillRect(0, 0, width, height);
    if (view.street) {
      pen.fillStyle = "#050609";
      pen.fillRect(0, height * ground, width, height);
      pen.globalAlpha = 0.3;
      if (this.picture) pen.drawImage(this.picture, 0, 0, width, height);
      pen.globalAlpha = 1;
    }
    this.dots(pen, colours, 1, Math.max(1.5, 2.6 * this.scale), 1);
    const glow = small.getContext("2d");
    glow.globalCompositeOperation = "source-over";
    glow.clearRect(0, 0, small.width, small.height);
    glow.globalCompositeOperation = "lighter";
    this.dots(glow, colours, 1 / 6, 1.4, 0.3);
    pen.globalCompositeOperation = "lighter";
    pen.imageSmoothingQuality = "high";
    pen.filter = `blur(${Math.max(2, 9 * this.scale)}px)`;
    pen.drawImage(small, 0, 0, width, height);
    pen.filter = "none";
  }

  dots(pen, colours, scale, side, share) {
    pen.globalCompositeOperation = "lighter";
    for (let i = 0; i < this.count; i++) {
      let [r, g, b] = [colours[4 * i], colours[4 * i + 1], colours[4 * i + 2]];
      if (this.exact) [r, g, b] = [r, g, b].map((value) => Math.sqrt(value / 255) * 255);
      const [x, y] = this.camera.place(i), least = share === 1 ? 14 : 0;
      pen.fillStyle = `rgb(${Math.max(r, least) * share | 0},${Math.max(g, least) * share | 0},${Math.max(b, least) * share | 0})`;
      pen.fillRect(x * scale - side / 2, y * scale - side / 2, side, side);
    }
  }
}
