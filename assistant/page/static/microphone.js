// The microphone: opened on the first press, since browsers ask for a gesture; its pieces go to whoever listens.
const BEFORE = 8;  // pieces of 40 ms kept from before a press, so that no first consonant is lost

export class Microphone {
  constructor(context, changed) {
    this.context = context;
    this.changed = changed;
    this.word = "Microphone off.";
    this.before = [];
    this.sink = null;
  }
  get ready() { return Boolean(this.node); }
  say(word) { this.word = word; this.changed(); }
  async open() {
    if (this.ready || this.opening) return;
    if (!navigator.mediaDevices) { this.say("No microphone here. Type."); return; }
    this.opening = true;
    this.say("Microphone opens…");
    try {
      const wish = { channelCount: 1, echoCancellation: true, noiseSuppression: false, autoGainControl: false };
      this.stream = await navigator.mediaDevices.getUserMedia({ audio: wish });
      await this.context.resume();
      await this.context.audioWorklet.addModule("/worklet.js");
      this.node = new AudioWorkletNode(this.context, "capture", { numberOfOutputs: 0 });
      this.node.port.onmessage = (event) => this.got(event.data);
      this.context.createMediaStreamSource(this.stream).connect(this.node);
      this.stream.getAudioTracks()[0].onended = () => this.lost();
      this.since = performance.now();
      this.say("Microphone ready.");
    } catch (trouble) {
      this.say(trouble.name === "NotAllowedError" ? "Microphone not allowed. Allow it, or type." : "No microphone. Type.");
    }
    this.opening = false;
  }
  lost() {
    this.node = null;
    this.say("Microphone lost. Press to open it.");
    this.stop();
  }
  got(data) {
    if (data === "flushed") { this.finish(); return; }
    if (this.sink) { this.sink(data); return; }
    this.before.push(data);
    if (this.before.length > BEFORE) this.before.shift();
  }
  start(sink, ended, fresh) {
    this.sink = sink;
    this.ended = ended;
    if (!fresh) this.before.forEach(sink);
    this.before = [];
  }
  stop() {
    if (!this.sink) return;
    if (!this.node) { this.finish(); return; }
    this.node.port.postMessage("flush");
  }
  finish() {
    const ended = this.ended;
    this.sink = this.ended = null;
    if (ended) ended();
  }
}
