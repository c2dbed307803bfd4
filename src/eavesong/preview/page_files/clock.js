// The song's position. The sound leads; without a sound the computer's clock does. Between two reports of the sound the
// position runs on evenly, so that frames do not stutter.
export class Clock {
  constructor(audio, duration) {
    Object.assign(this, { audio, duration, playing: false, rate: 1, loop: null, from: 0, since: 0 });
    if (audio) {
      audio.preservesPitch = true;
      audio.addEventListener("ended", () => this.pause());
      audio.addEventListener("pause", () => { if (this.playing && !audio.ended) this.pause(); });
    }
  }

  // Seconds into the song, now.
  get position() {
    if (!this.playing) return this.from;
    const time = performance.now(), run = this.from + (time - this.since) / 1000 * this.rate;
    const heard = this.audio && !this.audio.ended ? this.audio.currentTime : run;
    const off = heard - run, held = Math.abs(off) > 0.04 ? heard : run + off * 0.1;
    [this.from, this.since] = [Math.min(held, this.duration), time];
    return this.from;
  }

  async play() {
    if (this.playing) return;
    if (this.from >= this.duration - 0.05) this.seek(this.loop ? this.loop[0] : 0);
    this.playing = true;
    this.since = performance.now();
    if (this.audio) {
      this.audio.playbackRate = this.rate;
      try { await this.audio.play(); } catch { this.audio = null; }
      this.since = performance.now();
    }
    this.changed?.();
  }

  pause() {
    if (!this.playing) return;
    const at = this.position;
    this.playing = false;
    this.audio?.pause();
    this.from = at;
    this.changed?.();
  }

  seek(seconds) {
    this.from = Math.min(Math.max(seconds, 0), this.duration);
    this.since = performance.now();
    if (this.audio) this.audio.currentTime = this.from;
  }

  speed(rate) {
    this.from = this.position;
    this.rate = rate;
    if (this.audio) this.audio.playbackRate = rate;
  }

  // Called with every picture: goes back to the loop's beginning, and stops at the end.
  turn() {
    const at = this.position;
    if (this.playing && this.loop && (at >= this.loop[1] || at < this.loop[0] - 0.05)) this.seek(this.loop[0]);
    else if (this.playing && at >= this.duration) { this.pause(); this.from = this.duration; }
  }
}
