// Answers aloud, one after another; a press on the button stops them.
export class Voice {
  constructor(context) {
    this.context = context;
    this.queue = [];
    this.last = [];
    this.quietSince = 0;
    this.on = true;
  }
  get speaking() { return Boolean(this.playing); }
  async take(data) {
    const head = new DataView(data, 0, 8), part = head.getUint32(4, true) >> 1;
    const buffer = await this.context.decodeAudioData(data.slice(8));
    if (part === 0) this.last = [];
    this.last.push(buffer);
    this.add(buffer);
  }
  add(buffer) {
    if (!this.on || this.context.state !== "running") return;
    this.queue.push(buffer);
    if (!this.playing) this.next();
  }
  next() {
    const buffer = this.queue.shift();
    this.playing = null;
    if (!buffer) { this.quietSince = performance.now(); return; }
    this.playing = this.context.createBufferSource();
    this.playing.buffer = buffer;
    this.playing.connect(this.context.destination);
    this.playing.onended = () => this.next();
    this.playing.start();
  }
  again() {
    this.stop();
    this.last.forEach((buffer) => this.add(buffer));
  }
  stop() {
    this.queue = [];
    if (this.playing) { this.playing.onended = null; this.playing.stop(); this.playing = null; this.quietSince = performance.now(); }
  }
}
