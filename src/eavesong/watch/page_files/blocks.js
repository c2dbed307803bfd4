// The frames round the playhead, in blocks as they come from the studio. What is far away is let go.
import { inflate } from "../draw/decode.js";

const HEAD = 16, AHEAD = 10, MOST = 48;

export class Blocks {
  constructor(say) {
    Object.assign(this, { say, song: null, pixels: 0, now: new Map(), past: new Map(), looked: "", sequence: 0, still: null, came: null, out: new Uint8Array(0) });
  }

  // A song or a house of other measures: what is here fits no more.
  measure(song, pixels) {
    if (this.song && this.pixels === pixels && this.song.frames === song.frames && this.song.block === song.block) { this.song = song; return; }
    Object.assign(this, { song, pixels, out: new Uint8Array(4 * pixels), looked: "", still: null });
    this.now.clear();
    this.past.clear();
  }

  forget() { this.looked = ""; this.still = null; this.now.clear(); this.past.clear(); }

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

  // A message of the studio: a head, then light: of one frame as it is, of a block as a zlib stream.
  async take(message) {
    const view = new DataView(message), index = view.getUint32(0, true), first = view.getUint32(4, true), frames = view.getUint16(8, true);
    const before = view.getUint8(10) === 1, version = view.getUint32(12, true), sequence = ++this.sequence, blocks = before ? this.past : this.now;
    if (view.getUint8(11) === 1) {
      if (message.byteLength !== HEAD + 3 * this.pixels) return;
      this.still = { first, frames: 1, data: new Uint8Array(message, HEAD), version, sequence, before: false };
      return this.came?.(first);
    }
    const data = await inflate(new Uint8Array(message, HEAD));
    if (data.length !== frames * this.pixels * 3 || (blocks.get(index)?.sequence ?? 0) > sequence || !this.wanted?.includes(index)) return;
    blocks.set(index, { first, frames, data, version, sequence, before });
  }

  // What holds a frame: the newest of what is here; null while it is on its way.
  find(frame, before) {
    const index = this.indexOf(frame), block = (before ? this.past.get(index) : null) ?? this.now.get(index), { still } = this;
    if (!before && still?.first === frame && !(block?.version > still.version)) return still;
    return block && frame < block.first + block.frames ? block : null;
  }

  // The colours of a frame out of what holds it, four bytes a pixel.
  colours({ first, data }, frame) {
    const { out, pixels } = this;
    for (let i = 3 * pixels * (frame - first), o = 0, end = 4 * pixels; o < end; i += 3, o += 4) { out[o] = data[i]; out[o + 1] = data[i + 1]; out[o + 2] = data[i + 2]; }
    return out;
  }
}
