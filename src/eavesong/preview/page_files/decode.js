// Bytes out of the page's own text, and frames out of the streams (see pack.py for what stands in them).

// windows-1252 shows bytes 128 to 159 as other characters; this leads back.
const BACK = new Map([...new TextDecoder("windows-1252").decode(Uint8Array.from({ length: 32 }, (_, i) => 128 + i))]
  .map((character, i) => [character.charCodeAt(0), 128 + i]));

export function bytesOf(text, begin, end) {
  const out = new Uint8Array(end - begin);
  let size = 0;
  for (let i = begin; i < end; i++) {
    let code = text.charCodeAt(i);
    if (code === 61) code = text.charCodeAt(++i) - 64;
    out[size++] = code < 256 ? code : BACK.get(code);
  }
  return out.subarray(0, size);
}

export async function inflate(bytes, form = "deflate") {
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream(form));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

// The frames of the show: `at(frame)` gives the colours of a frame, or null while its stream is being unpacked.
export class Frames {
  constructor(about, text) {
    Object.assign(this, { about, text, count: about.pixels, kept: new Map(), shown: -1, chunk: -1 });
    const n = this.count;
    this.planes = [new Uint8Array(n), new Uint8Array(n), new Uint8Array(n)];
    this.colours = new Uint8Array(4 * n);
  }

  chunkOf(frame) { return Math.floor(frame / this.about.chunkFrames); }

  // Unpack a stream, once; the three used last are kept.
  load(chunk) {
    if (chunk < 0 || chunk >= this.about.streams.length) return null;
    let entry = this.kept.get(chunk);
    if (!entry) {
      const [begin, end] = this.about.streams[chunk];
      entry = { data: null };
      entry.done = inflate(bytesOf(this.text, begin, end)).then((data) => { entry.data = this.parts(chunk, data); });
    }
    this.kept.delete(chunk);
    this.kept.set(chunk, entry);
    if (this.kept.size > 3) this.kept.delete(this.kept.keys().next().value);
    return entry;
  }

  parts(chunk, data) {
    const n = this.count, d = this.about.steps[chunk];
    const frames = Math.min(this.about.chunkFrames, this.about.frames - chunk * this.about.chunkFrames);
    const codes = 3 * (n + d), escapes = codes + n * (frames - 1), e = (data.length - escapes) / 3;
    return { data, frames, d, codes, escapes, e };
  }

  at(frame) {
    if (frame === this.shown) return this.colours;
    const chunk = this.chunkOf(frame), entry = this.load(chunk);
    if (!entry.data) return null;
    const first = chunk * this.about.chunkFrames;
    if (chunk !== this.chunk || frame < this.shown) this.restart(entry.data, chunk, first);
    while (this.shown < frame) this.step(entry.data, ++this.shown - first - 1);
    this.colour();
    return this.colours;
  }

  restart(part, chunk, first) {
    const n = this.count;
    this.planes.forEach((plane, k) => plane.set(part.data.subarray(k * n, (k + 1) * n)));
    Object.assign(this, { chunk, shown: first, escape: 0 });
  }

  step(part, column) {
    const { data, frames, d, codes, escapes, e } = part, n = this.count, [a, b, c] = this.planes, table = 3 * n - 1;
    let escape = this.escape;
    for (let p = 0, at = codes + column; p < n; p++, at += frames - 1) {
      const code = data[at];
      if (code === 0) continue;
      if (code === 255) {
        a[p] += data[escapes + escape]; b[p] += data[escapes + e + escape]; c[p] += data[escapes + 2 * e + escape];
        escape++;
      } else {
        a[p] += data[table + code]; b[p] += data[table + d + code]; c[p] += data[table + 2 * d + code];
      }
    }
    this.escape = escape;
  }

  // Planes to colours: light itself where the pack is exact, the square root of light where it is not.
  colour() {
    const { luma, chroma } = this.about.fidelity, out = this.colours, [a, b, c] = this.planes;
    for (let p = 0, o = 0; p < this.count; p++, o += 4) {
      if (!luma) { out[o] = a[p]; out[o + 1] = b[p]; out[o + 2] = c[p]; continue; }
      const y = a[p] * luma, co = (b[p] << 24 >> 24) * chroma / 2, cg = (c[p] << 24 >> 24) * chroma / 2;
      const red = y - cg + co, green = y + cg, blue = y - cg - co;
      out[o] = red < 0 ? 0 : red > 255 ? 255 : red + 0.5;
      out[o + 1] = green < 0 ? 0 : green > 255 ? 255 : green + 0.5;
      out[o + 2] = blue < 0 ? 0 : blue > 255 ? 255 : blue + 0.5;
    }
  }

  // Linear light 0..255 of one pixel of the frame that is shown.
  light(pixel) {
    const own = this.colours.subarray(4 * pixel, 4 * pixel + 3);
    return [...own].map((value) => this.about.fidelity.luma ? value * value / 255 : value);
  }
}
