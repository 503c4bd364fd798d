// The page stays awake while it reckons: now and then everything else gets its turn, and a wish to stop is heard.

const LONGEST = 30; // milliseconds without a pause

const turn = () =>
  new Promise((done) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = () => {
      port1.close();
      done();
    };
    port2.postMessage(null);
  });

// ``tell(part, done, of)`` is told how far it is; ``signal`` breaks off, with its reason thrown.
export class Breath {
  constructor({ signal = null, tell = () => {} } = {}) {
    this.signal = signal;
    this.tell = tell;
    this.last = performance.now();
  }

  // True where it is time for ``pause``; asked often, so it waits for nothing itself.
  get due() {
    return performance.now() - this.last > LONGEST;
  }

  async pause(part, done, of) {
    this.tell(part, done, of);
    await turn();
    this.signal?.throwIfAborted();
    this.last = performance.now();
  }
}
