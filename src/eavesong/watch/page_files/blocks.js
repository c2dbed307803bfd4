// The frames round the playhead, in blocks as they come from the studio. What is far away is let go.
import { inflate } from "../draw/decode.js";

const HEAD = 16, AHEAD = 10, MOST = 48;

export class Blocks {
  constructor(say) {
    Object.assign(this, { say, song: null, pixels: 0, now: new Map(), past: new Map(), wanted: null, looked: "", order: null, still: null, came: null, out: new Uint8Array(0) });
  }

  // A song or a house of other measures: what is here fits no more.
  measure(song, pixels) {
    if (this.song && this.pixels === pixels && this.song.frames === song.frames && this.song.block === song.block) { this.song = song; return; }
    Object.assign(this, { song, pixels, out: new Uint8Array(4 * pixels), looked: "", still: null });
    this.now.clear();
    this.past.clear();
  }

  // A studio that knows of nothing here: until it is told what is wanted, all that it sends is kept.
  forget() { this.looked = ""; this.wanted = null; this.still = null; this.now.clear(); this.past.clear(); }

  indexOf(frame) { return Math.floor(frame / this.song.block); }

  // Tell the studio which blocks are wanted: those that are heard next, round the loop where there is one; and which frame
  // is seen where the song stands still.
  look(frame, playing, loop, before) {
    if (!this.song) return;
    const at = this.indexOf(Math.max(0, frame)), last = this.indexOf(this.song.frames - 1), wanted = [];
    const [from, to] = loop ? loop.map((seconds) => this.indexOf(Math.min(this.song.frames - 1, seconds * this.song.rate))) : [0, last];
    let index = at;
    for (let count = 0; count < (playing ? AHEAD : 4) && wanted.length < MOST; count++) {
      if (!wanted.includes(index)) wanted.push(index);
      index = loop && index >= to ? from : index + 1;
      if (index > last) break;
    }
    if (at > 0 && !wanted.includes(at - 1)) wanted.push(at - 1);
    const looked = JSON.stringify([wanted, before, playing ? -1 : frame]);
    if (looked === this.looked) return;
    this.looked = looked;
    for (const blocks of [this.now, this.past]) for (const key of blocks.keys()) if (!wanted.includes(key)) blocks.delete(key);
    if (!before) this.past.clear(); else for (const key of this.now.keys()) if (!wanted.includes(key)) this.now.delete(key);
    this.wanted = wanted;
    this.say({ do: "look", at, blocks: wanted, before, frame: playing ? -1 : frame });
  }

  // A message of the studio: a head, then light: of one frame as it is, of a block those tiles that are not here, deflated.
  take(message) {
    const view = new DataView(message), index = view.getUint32(0, true), first = view.getUint32(4, true), frames = view.getUint16(8, true);
    const before = view.getUint8(10) === 1, version = view.getUint32(12, true);
    if (view.getUint8(11) === 1) {
      if (message.byteLength !== HEAD + 3 * this.pixels) return;
      this.still = { first, frames: 1, tiles: [new Uint8Array(message, HEAD)], version, before: false };
      this.came?.(first);
      return;
    }
    const count = view.getUint16(HEAD, true), tiles = Array.from({ length: count }, (_, at) => view.getUint16(HEAD + 2 + 2 * at, true));
    const light = inflate(new Uint8Array(message, HEAD + 2 + 2 * count), "deflate-raw");
    // One after the other, as they were sent, whichever is unpacked first.
    this.order = Promise.allSettled([light, this.order]).then(([{ value }]) => value && this.put({ first, frames, version, before }, index, tiles, value));
  }

  put(block, index, tiles, light) {
    const { song, pixels } = this, blocks = block.before ? this.past : this.now, had = blocks.get(index);
    const sizes = tiles.map((tile) => 3 * block.frames * Math.min(song.tile, pixels - tile * song.tile));
    const whole = tiles.length === Math.ceil(pixels / song.tile);
    if (this.wanted && !this.wanted.includes(index) || light.length !== sizes.reduce((a, b) => a + b, 0) || !(whole || had)) return;
    const all = had ? [...had.tiles] : [];
    let at = 0;
    tiles.forEach((tile, i) => { all[tile] = light.subarray(at, at += sizes[i]); });
    blocks.set(index, { ...block, tiles: all });
  }

  // What holds a frame: the newest of what is here; null while it is on its way.
  find(frame, before) {
    const index = this.indexOf(frame), block = (before ? this.past.get(index) : null) ?? this.now.get(index), { still } = this;
    if (!before && still?.first === frame && !(block?.version > still.version)) return still;
    return block && frame < block.first + block.frames ? block : null;
  }

  // The colours of a frame out of what holds it, four bytes a pixel.
  colours({ first, frames, tiles }, frame) {
    const { out } = this;
    let o = 0;
    for (const tile of tiles) {
      const width = tile.length / frames, begin = width * (frame - first);
      for (let i = begin; i < begin + width; i += 3, o += 4) { out[o] = tile[i]; out[o + 1] = tile[i + 1]; out[o + 2] = tile[i + 2]; }
    }
    return out;
  }
}
