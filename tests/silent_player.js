'use strict';

// A player that keeps to the page's contract, makes no sound, and tells a test what it would let hear.
(() => {
  class Player extends EventTarget {
    constructor({ take }) {
      super();
      Object.assign(this, { names: take.candidates.map(({ name }) => name), time: 0, playing: false, chosen: 0 });
    }

    load() {
      globalThis.silent = this;
      if (globalThis.slow) return new Promise((ready, fail) => { globalThis.late = { ready, fail }; });
      return globalThis.failing ? Promise.reject(new Error('no such sound')) : Promise.resolve();
    }

    play() { this.turn(true); }

    pause() { this.turn(false); }

    get heard() { return { voicing: true, bed: true }; }

    turn(playing) {
      this.playing = playing;
      this.dispatchEvent(new Event('state'));
    }

    seek(seconds) { this.time = seconds; }

    choose(index) { this.chosen = index; }

    setLoop(start, end) { this.loop = [start, end]; }

    clearLoop() { this.loop = null; }
  }

  globalThis.sublatch ??= {};
  sublatch.Player = Player;
})();
