// What waits to be sent while a sheet is filled in. Without a connection it is tried again, never sooner than said here.

const PAUSES = [2000, 4000, 8000, 15000, 30000]; // ms between tries

// What waits to be sent, first come first sent. `send(entry)` answers true when it was received, false to try again.
// A newer entry with the same key takes the place of one that has not been taken up yet.
export class Queue {
  constructor(send, changed, wait = (ms, done) => setTimeout(done, ms)) {
    Object.assign(this, { send, changed, wait, waiting: [], sending: null, failed: 0, turn: 0, stopped: false });
  }

  // The form was signed and is held on the phone: nothing of it is kept as a draft any more.
  stop(stopped) {
    this.stopped = stopped;
    this.waiting = [];
    this.failed = 0;
  }

  get empty() {
    return !this.waiting.length && !this.sending;
  }

  add(entry) {
    if (this.stopped) return;
    const at = this.waiting.findIndex((other) => other.key === entry.key);
    if (at < 0) this.waiting.push(entry);
    else this.waiting[at] = entry;
    this.changed();
    this.next();
  }

  async next() {
    if (this.sending || !this.waiting.length) return;
    const turn = ++this.turn;
    const entry = (this.sending = this.waiting.shift());
    let received = false;
    try {
      received = await this.send(entry);
    } catch {
      received = false;
    }
    this.sending = null;
    if (received) this.failed = 0;
    else if (!this.stopped) {
      if (!this.waiting.some((other) => other.key === entry.key)) this.waiting.unshift(entry);
      const pause = PAUSES[Math.min(this.failed++, PAUSES.length - 1)];
      this.wait(pause, () => turn === this.turn && this.next());
    }
    this.changed();
    if (received) this.next();
  }
}
