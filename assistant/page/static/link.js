// The link to the machine. What is said waits here until its answer has come, however often the link breaks.
const SILENT = 5000, MOST = 50, BUSY = 1013;

export class Link {
  constructor(on) {
    this.on = on;
    this.life = Array.from(crypto.getRandomValues(new Uint8Array(8)), (b) => b.toString(16).padStart(2, "0")).join("");
    this.waiting = [];
    this.number = 0;
    this.shown = 0;
    this.seen = 0;
    this.wait = 300;
    this.connected = false;
    this.busy = false;
    this.since = Date.now();
    setInterval(() => this.check(), 500);
    addEventListener("offline", () => this.drop());
    addEventListener("online", () => { clearTimeout(this.timer); this.probe(); });
    this.open();
  }
  open() {
    clearTimeout(this.timer);
    if (this.socket) return;
    const socket = this.socket = new WebSocket(`wss://${location.host}/link?life=${this.life}`);
    socket.binaryType = "arraybuffer";
    this.heardAt = Date.now();
    socket.onmessage = (event) => { if (socket === this.socket) { this.heardAt = Date.now(); this.got(event.data); } };
    socket.onclose = (event) => { if (socket === this.socket) { this.busy = event.code === BUSY; this.drop(); } };
  }
  drop() {
    const socket = this.socket;
    this.socket = null;
    if (socket) { socket.onclose = socket.onmessage = null; socket.close(); }
    const first = this.connected;
    if (first) this.since = Date.now();
    this.connected = false;
    for (const one of this.waiting) one.begun = one.ended = false;
    this.on.state();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => (first ? this.open() : this.probe()), this.wait);
    this.wait = Math.min(this.wait * 1.6, 1000);
  }
  // Browsers slow down sockets that failed; an ordinary request they do not. Only a plain "stranger" tells that we are one:
  // whoever is refused for another reason waits and asks again.
  async probe() {
    const answer = await fetch("/who", { cache: "no-store", signal: AbortSignal.timeout(4000) }).catch(() => null);
    const words = answer?.ok ? await answer.text().catch(() => "") : "";
    this.busy = Boolean(answer) && !answer.ok;
    if (words) this.on.met(words === "paired");
    this.on.state();
    if (words === "paired") this.open();
    else this.timer = setTimeout(() => this.probe(), this.busy ? 2000 : this.wait);
  }
  check() {
    if (this.socket && Date.now() - this.heardAt > SILENT) this.drop();
    if (!this.connected) this.on.state();
  }
  got(data) {
    if (typeof data !== "string") { this.on.sound(data); return; }
    const message = JSON.parse(data);
    if (message.kind === "hello") {
      this.connected = true;
      this.busy = false;
      this.wait = 300;
      this.seen = message.book.sequence;
      for (const one of this.waiting) one.sent = message.have && message.have.number === one.number ? message.have.frames : 0;
      this.on.hello(message);
      this.pump();
    } else if (message.kind === "need") {
      const one = this.waiting.find((w) => w.number === message.number);
      if (one) { one.begun = one.begun && message.frames > 0; one.sent = message.frames; one.ended = false; this.pump(); }
    } else if (message.kind === "answer") {
      this.waiting = this.waiting.filter((w) => w.number !== message.number);
      if (message.number > this.shown) {
        this.shown = message.number;
        this.seen = Math.max(this.seen, message.answer.sequence);
        this.on.answer(message.answer);
      }
    } else if (message.kind === "book") {
      this.seen = Math.max(this.seen, message.sequence);
      this.on.book(message);
    } else if (message.kind !== "tick") this.on[message.kind]?.(message);
    this.on.state();
  }
  begin() {
    if (this.waiting.length >= MOST) return null;
    const one = { number: ++this.number, after: this.shown, seen: this.seen, frames: [], sent: 0, done: false };
    this.waiting.push(one);
    this.pump();
    return one;
  }
  add(one, samples) { one.frames.push(samples); this.pump(); }
  end(one) { one.done = true; this.pump(); this.on.state(); }
  cancel(one) {
    this.waiting = this.waiting.filter((w) => w !== one);
    if (one.begun) this.tell({ kind: "drop", number: one.number });
  }
  type(text) {
    if (this.waiting.length >= MOST) return false;
    this.waiting.push({ number: ++this.number, after: this.shown, seen: this.seen, text, frames: [], done: true });
    this.pump();
    this.on.state();
    return true;
  }
  tell(message) { this.socket.send(JSON.stringify(message)); }
  pump() {
    if (!this.connected || this.socket.readyState !== 1) return;
    for (const one of this.waiting) {
      if (one.text !== undefined) {
        if (!one.begun) this.tell({ kind: "typed", number: one.number, after: one.after, seen: one.seen, text: one.text });
        one.begun = true;
        continue;
      }
      if (!one.begun) this.tell({ kind: "begin", number: one.number, after: one.after, seen: one.seen });
      one.begun = true;
      for (; one.sent < one.frames.length; one.sent++) this.socket.send(framed(one.number, one.sent, one.frames[one.sent]));
      if (one.done && !one.ended) this.tell({ kind: "end", number: one.number, frames: one.frames.length });
      one.ended = one.done;
      if (!one.done) return;
    }
  }
}

function framed(number, index, samples) {
  const bytes = new Uint8Array(8 + samples.byteLength), view = new DataView(bytes.buffer);
  view.setUint32(0, number, true);
  view.setUint32(4, index, true);
  for (let k = 0; k < samples.length; k++) view.setInt16(8 + 2 * k, samples[k], true);
  return bytes;
}
