// From the microphone's own rate to 16 kHz, in pieces of 40 ms: a windowed sinc (Hann) cut a little under 8 kHz.
const RATE = 16000, PIECE = 640, HALF = 16, PHASES = 64;

function kernels(ratio) {
  const cut = 0.92 * Math.min(1, 1 / ratio), reach = Math.ceil(HALF * Math.max(1, ratio)), table = [];
  for (let phase = 0; phase <= PHASES; phase++) {
    const taps = new Float32Array(2 * reach);
    let sum = 0;
    for (let k = 0; k < taps.length; k++) {
      const x = k - reach + 1 - phase / PHASES, w = 0.5 + 0.5 * Math.cos(Math.PI * x / (reach + 1));
      taps[k] = (x === 0 ? cut : Math.sin(Math.PI * cut * x) / (Math.PI * x)) * w;
      sum += taps[k];
    }
    for (let k = 0; k < taps.length; k++) taps[k] /= sum;
    table.push(taps);
  }
  return { table, reach };
}

class Resampler {
  constructor(rate) {
    this.step = rate / RATE;
    Object.assign(this, kernels(this.step));
    this.kept = new Float32Array(2 * this.reach);
    this.at = this.reach;
  }
  take(input, out) {
    const all = new Float32Array(this.kept.length + input.length);
    all.set(this.kept);
    all.set(input, this.kept.length);
    for (; Math.floor(this.at) + this.reach < all.length; this.at += this.step) {
      const whole = Math.floor(this.at), taps = this.table[Math.round((this.at - whole) * PHASES)];
      let sum = 0;
      for (let k = 0; k < taps.length; k++) sum += taps[k] * all[whole - this.reach + 1 + k];
      out(Math.max(-32768, Math.min(32767, Math.round(sum * 32767))));
    }
    const drop = Math.max(0, Math.floor(this.at) - this.reach);
    this.kept = all.slice(drop);
    this.at -= drop;
  }
}

if (typeof AudioWorkletProcessor !== "undefined") {
  class Capture extends AudioWorkletProcessor {
    constructor() {
      super();
      this.resampler = new Resampler(sampleRate);
      this.piece = new Int16Array(PIECE);
      this.count = 0;
      this.port.onmessage = () => { this.give(); this.port.postMessage("flushed"); };
    }
    give() {
      if (this.count) this.port.postMessage(this.piece.slice(0, this.count));
      this.count = 0;
    }
    process(inputs) {
      if (inputs[0].length) this.resampler.take(inputs[0][0], (sample) => {
        this.piece[this.count++] = sample;
        if (this.count === PIECE) this.give();
      });
      return true;
    }
  }
  registerProcessor("capture", Capture);
}
