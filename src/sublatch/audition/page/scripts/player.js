'use strict';

// One take to be heard: its candidates in step, one of them chosen; where it is, and what it repeats; whether through its
// voicing, and with its bed.
(() => {
  const AHEAD_S = 0.03; // how far ahead of the clock all is arranged, so that it is never late
  const SHORTEST_LOOP_S = 0.05;
  const ALL = { voicing: true, bed: true };
  const stands = new Map(); // how each take was heard last, for the next player of the same one

  // All that a take needs to sound. A bed is brought to the take's length, so that both come round a loop together.
  function carriers({ candidates, voicing, bed, seconds, sample_rate: rate }) {
    return [...candidates, voicing, bed && { ...bed, frames: Math.round(seconds * rate) }].filter(Boolean);
  }

  class Player extends EventTarget {
    #take;
    #context;
    #sounds = null;
    #loading = null;
    #heard;
    #voices = null;
    #time_s = 0;
    #chosen = 0;
    #loop = null;
    #live = null;
    #own = false;
    #made;

    // `context` is an AudioContext, or a function that gives one when sound is first asked for. `told` is what the page
    // makes candidates from itself; without it all come from files.
    constructor({ take, context, told = null }) {
      super();
      this.#take = take;
      this.#context = context;
      this.#made = sublatch.made?.(take, told) ?? null;
      this.#heard = stands.get(take.name) ?? ALL;
    }

    get take() { return this.#take; }

    // The sounds that cannot be had: the number of a candidate, or what else it is, and why.
    get lost() { return this.#sounds?.lost ?? []; }

    get loaded() { return this.#sounds !== null; }

    get playing() { return this.#voices !== null; }

    get chosen() { return this.#chosen; }

    // Whether it is heard through its voicing and with its bed, where it has them.
    get heard() { return { ...this.#heard }; }

    // Memory for its sounds; how long a voicing's response is, is known when it is there.
    get bytes() {
      const { candidates, bed, seconds, sample_rate: rate } = this.#take;
      const files = candidates.length - (this.#made?.numbers.size ?? 0) + (bed ? 1 : 0);
      return 4 * (seconds * rate * files + (this.#sounds?.response?.length ?? 0)) + (this.#made?.bytes ?? 0);
    }

    // Whether the page's own sound is heard instead of the chosen file.
    get own() { return this.#own; }

    get loop() { return this.#loop && [...this.#loop]; }

    get time() {
      if (!this.#voices) return this.#time_s;
      const { context } = this.#voices;
      return this.#voices.timeAt(context.currentTime - (context.outputLatency || 0));
    }

    async load(onProgress = () => {}) {
      this.#loading ??= this.#gather(onProgress);
      const loading = this.#loading;
      try {
        const sounds = await loading;
        if (this.#loading !== loading || this.loaded) return;
        this.#sounds = sounds;
        if (!this.#isThere(this.#chosen)) this.choose(this.#take.candidates.findIndex((_, i) => this.#isThere(i)));
        this.#tell('loaded');
      } catch (problem) {
        if (this.#loading === loading) this.#loading = null;
        throw problem;
      }
    }

    async #gather(onProgress) {
      if (this.#made && !await this.#made.load()) this.#made = null;
      return Player.sounds(this.#take, onProgress, this.#made);
    }

    // Make ready what the page makes itself; where it cannot, files are loaded instead.
    async begin(context, onProgress = () => {}) {
      if (!this.#made || this.#made.live) return;
      try {
        await this.#made.begin(context);
        this.#made.choose(this.#chosen);
      } catch {
        this.#made = this.#sounds = this.#loading = null;
        await this.load(onProgress);
      }
    }

    // Let the sounds go; they are loaded again when they are asked for.
    unload() {
      this.pause();
      this.#sounds = this.#loading = null;
      sublatch.sounds.forget(carriers(this.#take));
      this.#made?.forget();
    }

    play() {
      if (this.playing || !this.loaded) return;
      if (!this.#loop && this.#time_s >= this.#take.seconds - SHORTEST_LOOP_S) this.#time_s = 0;
      this.#start(this.#time_s);
      this.#tell('state');
      requestAnimationFrame(() => this.#frame());
    }

    pause() {
      if (!this.playing) return;
      this.#time_s = this.time;
      this.#stop();
      this.#tell('state');
    }

    seek(seconds) {
      this.#time_s = Math.min(Math.max(seconds, 0), this.#take.seconds);
      if (this.playing) this.#restart(this.#time_s);
      this.#tell('time');
    }

    choose(index) {
      if (!(index in this.#take.candidates) || (index === this.#chosen && !this.#own)) return;
      if (this.#sounds && !this.#isThere(index)) return;
      this.#chosen = index;
      this.#own = false;
      this.#made?.choose(index);
      this.#voices?.switchTo(this.#sounding, this.#soon());
      this.#tell('chosen');
    }

    // Take in the page's own sound, from `createLive`.
    lend(live) {
      this.#live = live;
      if (this.playing) this.#restart(this.#voices.timeAt(this.#soon() + this.#voices.late_s));
    }

    // Hear the page's own sound, or the chosen file again.
    hearOwn(own) {
      if (!this.#live || own === this.#own) return;
      this.#own = own;
      this.#voices?.switchTo(this.#sounding, this.#soon());
      this.#tell('chosen');
    }

    #isThere(index) { return Boolean(this.#sounds.buffers[index] || this.#made?.has(index)); }

    // After the candidates' files come what the page makes of them, and what is set by hand.
    get #sounding() {
      const { length } = this.#take.candidates;
      if (this.#own) return length + 1;
      return this.#made?.has(this.#chosen) ? length : this.#chosen;
    }

    // `heard` has what is to be turned on or off: voicing, bed.
    hear(heard) {
      this.#heard = { ...this.#heard, ...heard };
      stands.set(this.#take.name, this.#heard);
      this.#voices?.hear(this.#heard, this.#soon());
      this.#tell('heard');
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
      const time_s = this.#voices?.timeAt(this.#soon() + this.#voices.late_s);
      this.#loop = loop;
      if (this.playing) this.#restart(time_s);
      this.#tell('loop');
    }

    #soon() {
      return this.#voices.context.currentTime + AHEAD_S;
    }

    #start(time_s) {
      if (typeof this.#context === 'function') this.#context = this.#context();
      const context = this.#context;
      context.resume();
      this.#voices = new sublatch.Voices({
        context,
        take: this.#take,
        ...this.#sounds,
        heard: this.#heard,
        lives: [this.#made?.live ?? null, this.#live],
        chosen: this.#sounding,
        at_s: context.currentTime + AHEAD_S,
        from_s: time_s,
        loop: this.#loop,
      });
    }

    #stop(late_s = 0) {
      this.#voices.stop(this.#soon() + late_s);
      this.#voices = null;
    }

    // What comes next is heard as late as its voicing makes it; until then, what was.
    #restart(time_s) {
      this.#stop(this.#voices.late_s);
      this.#start(time_s);
    }

    #frame() {
      if (!this.playing) return;
      if (this.#voices.over) {
        this.pause();
        this.#time_s = this.#take.seconds;
      } else {
        requestAnimationFrame(() => this.#frame());
      }
      this.#tell('time');
    }

    #tell(kind) {
      this.dispatchEvent(new Event(kind));
    }

    // A take's sounds: its candidates' `buffers`, null for one that cannot be had or is `made` by the page, its voicing's
    // `response` and its `bed`, null without, and what is `lost`. No candidate at all is an error.
    static async sounds(take, onProgress = () => {}, made = null) {
      const files = take.candidates.filter((_, i) => !made?.has(i));
      const asked = carriers({ ...take, candidates: files });
      const told = await sublatch.sounds.load(asked, take.sample_rate, onProgress);
      const which = (i) => (i < files.length ? take.candidates.indexOf(files[i]) : asked[i] === take.voicing ? 'voicing' : 'bed');
      const lost = told.flatMap((sound, i) => (sound instanceof Error ? [{ which: which(i), problem: sound }] : []));
      const sounds = told.map((sound) => (sound instanceof Error ? null : sound));
      const buffers = take.candidates.map((one) => sounds[files.indexOf(one)] ?? null);
      if (!made && !buffers.some(Boolean)) throw Object.assign(lost[0].problem, { all: lost.every((one) => one.problem.missing) });
      const rest = sounds.slice(files.length);
      return { buffers, response: take.voicing ? rest.shift() : null, bed: take.bed ? rest.shift() : null, lost };
    }

    // What would be heard, without a loudspeaker: the same graph, rendered. `script` says what is chosen, or turned on
    // and off, when. Through a voicing all comes later, by what its response has ahead of the moment itself.
    static async offline({ take, script = [], seconds, start_s = 0, loop = null, chosen = 0, heard = ALL, ...sounds }) {
      const rate = take.sample_rate;
      const context = new OfflineAudioContext(1, Math.round(seconds * rate), rate);
      const voices = new sublatch.Voices({ context, take, ...sounds, heard, chosen, at_s: 0, from_s: start_s, loop });
      for (const { at_s, choose, hear } of script) {
        if (hear) voices.hear(hear, at_s);
        else voices.switchTo(choose, at_s);
      }
      return context.startRendering();
    }
  }

  globalThis.sublatch ??= {};
  sublatch.Player = Player;
})();
