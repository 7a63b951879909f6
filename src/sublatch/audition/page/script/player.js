'use strict';

// One take to be heard: its candidates in step, one of them chosen; where it is, and what it repeats.
(() => {
  const AHEAD_S = 0.03; // how far ahead of the clock all is arranged, so that it is never late
  const SHORTEST_LOOP_S = 0.05;

  class Player extends EventTarget {
    #take;
    #context;
    #buffers = null;
    #loading = null;
    #voices = null;
    #place_s = 0;
    #chosen = 0;
    #loop = null;

    // `context` is an AudioContext, or a function that gives one when sound is first asked for.
    constructor({ take, context }) {
      super();
      this.#take = take;
      this.#context = context;
    }

    get take() { return this.#take; }

    get loaded() { return this.#buffers !== null; }

    get playing() { return this.#voices !== null; }

    get chosen() { return this.#chosen; }

    get loop() { return this.#loop && [...this.#loop]; }

    get time() {
      if (!this.#voices) return this.#place_s;
      const { context } = this.#voices;
      return this.#voices.place(context.currentTime - (context.outputLatency || 0));
    }

    async load(onProgress = () => {}) {
      const { candidates, sample_rate: rate } = this.#take;
      this.#loading ??= sublatch.sounds.load(candidates, rate, onProgress);
      const loading = this.#loading;
      try {
        const buffers = await loading;
        if (this.#loading !== loading || this.loaded) return;
        this.#buffers = buffers;
        this.#tell('loaded');
      } catch (problem) {
        if (this.#loading === loading) this.#loading = null;
        throw problem;
      }
    }

    // Let the sounds go; they are loaded again when they are asked for.
    unload() {
      this.pause();
      this.#buffers = this.#loading = null;
      sublatch.sounds.forget(this.#take.candidates);
    }

    play() {
      if (this.playing || !this.loaded) return;
      if (!this.#loop && this.#place_s >= this.#take.seconds - SHORTEST_LOOP_S) this.#place_s = 0;
      this.#start(this.#place_s);
      this.#tell('state');
      requestAnimationFrame(() => this.#frame());
    }

    pause() {
      if (!this.playing) return;
      this.#place_s = this.time;
      this.#stop();
      this.#tell('state');
    }

    seek(seconds) {
      this.#place_s = Math.min(Math.max(seconds, 0), this.#take.seconds);
      if (this.playing) this.#restart(this.#place_s);
      this.#tell('time');
    }

    choose(index) {
      if (!(index in this.#take.candidates) || index === this.#chosen) return;
      this.#chosen = index;
      this.#voices?.switchTo(index, this.#soon());
      this.#tell('chosen');
    }

    setLoop(start_s, end_s) {
      const end = Math.min(Math.max(end_s, SHORTEST_LOOP_S), this.#take.seconds);
      const start = Math.min(Math.max(start_s, 0), Math.max(end - SHORTEST_LOOP_S, 0));
      if (!Number.isFinite(start) || !Number.isFinite(end) || end <= start) return;
      this.#setLoop([start, end]);
    }

    clearLoop() {
      if (this.#loop) this.#setLoop(null);
    }

    #setLoop(loop) {
      const place = this.#voices?.place(this.#soon());
      this.#loop = loop;
      if (this.playing) this.#restart(place);
      this.#tell('loop');
    }

    #soon() {
      return this.#voices.context.currentTime + AHEAD_S;
    }

    #start(place) {
      if (typeof this.#context === 'function') this.#context = this.#context();
      const context = this.#context;
      context.resume();
      this.#voices = new sublatch.Voices({
        context,
        buffers: this.#buffers,
        chosen: this.#chosen,
        at_s: context.currentTime + AHEAD_S,
        from_s: place,
        loop: this.#loop,
      });
    }

    #stop() {
      this.#voices.stop(this.#soon());
      this.#voices = null;
    }

    #restart(place) {
      this.#stop();
      this.#start(place);
    }

    #frame() {
      if (!this.playing) return;
      if (this.#voices.over) {
        this.pause();
        this.#place_s = this.#take.seconds;
      } else {
        requestAnimationFrame(() => this.#frame());
      }
      this.#tell('time');
    }

    #tell(kind) {
      this.dispatchEvent(new Event(kind));
    }

    // What would be heard, without a loudspeaker: the same graph, rendered. `script` says what is chosen when.
    static async offline({ take, buffers, script = [], seconds, start_s = 0, loop = null, chosen = 0 }) {
      const rate = take.sample_rate;
      const context = new OfflineAudioContext(1, Math.round(seconds * rate), rate);
      const voices = new sublatch.Voices({ context, buffers, chosen, at_s: 0, from_s: start_s, loop });
      for (const { at_s, choose } of script) voices.switchTo(choose, at_s);
      return context.startRendering();
    }
  }

  globalThis.sublatch ??= {};
  sublatch.Player = Player;
})();
