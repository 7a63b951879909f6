'use strict';

// Candidates that the page makes itself while they play, from what leaves the octave stage: one sound for all that share
// their stage, instead of one each. A take with a voicing has files, whose level was matched through it.
(() => {
  class Made {
    #take;
    #told;

    /** What makes their sound, once it may play. */
    live = null;

    /** @param {Object} take @param {Object} told the page's `live` */
    constructor(take, told) {
      this.#take = take;
      this.#told = told;
      const names = new Set(take.live.sounds.flatMap(({ candidates }) => candidates.map(({ name }) => name)));
      this.numbers = new Set(take.candidates.flatMap(({ name }, i) => (names.has(name) ? [i] : [])));
    }

    get #carriers() { return this.#take.live.sounds.map(({ carrier }) => carrier); }

    /** Memory for their sounds, which have two channels. */
    get bytes() { return 4 * 2 * this.#take.seconds * this.#take.sample_rate * this.#carriers.length; }

    has(index) { return this.numbers.has(index); }

    /** Get the sounds; false where one cannot be had. */
    async load() {
      const sounds = await sublatch.sounds.load(this.#carriers, this.#take.sample_rate, () => {});
      return !sounds.some((sound) => sound instanceof Error);
    }

    /** Make ready what plays them. */
    async begin(context) {
      this.live ??= await sublatch.createLive(context, this.#take, this.#told);
    }

    /** Let one of them be heard. */
    choose(index) {
      if (this.has(index)) this.live?.set({ candidate: this.#take.candidates[index].name, fresh: true });
    }

    forget() {
      this.live = null;
      sublatch.sounds.forget(this.#carriers);
    }
  }

  /** Those of a take; null where all come from files. */
  function made(take, told) {
    return told && take.live && !take.voicing && globalThis.AudioWorkletNode ? new Made(take, told) : null;
  }

  globalThis.sublatch ??= {};
  sublatch.made = made;
})();
