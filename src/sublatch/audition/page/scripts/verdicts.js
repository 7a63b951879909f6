'use strict';

// What was decided: keep, maybe or out, and a note, for each candidate on each take, and what was set by hand and kept;
// all under the page's address.
(() => {
  const PLACE = `sublatch verdicts ${location.href.split('#')[0]}`;
  const EMPTY = { verdict: '', note: '', sound: '' };

  function digits() {
    return [...crypto.getRandomValues(new Uint8Array(8))].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  }

  // What the browser kept, null where it keeps nothing or what it kept is none of this.
  function read() {
    try {
      const kept = JSON.parse(localStorage.getItem(PLACE));
      return typeof kept?.marks === 'object' && kept.marks && typeof kept.session === 'string' ? kept : null;
    } catch {
      return null;
    }
  }

  class Verdicts extends EventTarget {
    constructor() {
      super();
      const { session = digits(), listener = '', marks = {}, own = [], hand = null, saved = true } = read() ?? {};
      Object.assign(this, { session, listener, marks, own: Array.isArray(own) ? own : [], hand, saved, kept: true });
      this.keep();
    }

    /**
     * Return what was decided of a candidate on a take.
     * @param {{name: string}} take
     * @param {{name: string}} candidate
     * @returns {{verdict: string, note: string, sound: string}} Empty texts where nothing was.
     */
    of(take, candidate) {
      return this.marks[take.name]?.[candidate.name] ?? EMPTY;
    }

    /**
     * Decide, or note something.
     * @param {{name: string}} take
     * @param {{name: string, digest: string}} candidate
     * @param {{verdict?: string, note?: string}} change
     */
    set(take, candidate, change) {
      const next = { ...this.of(take, candidate), ...change, sound: candidate.digest };
      const marks = { ...this.marks[take.name], [candidate.name]: next };
      if (!next.verdict && !next.note) delete marks[candidate.name];
      this.marks = { ...this.marks, [take.name]: marks };
      this.saved = false;
      this.keep();
      this.dispatchEvent(new Event('change'));
    }

    /** @param {{name: string, setting: Object}[]} own What was set by hand and kept. */
    setOwn(own) {
      this.own = own;
      this.saved = false;
      this.keep();
      this.dispatchEvent(new Event('change'));
    }

    /** @param {Object | null} hand What was set by hand last and has no name yet; it is in no file. */
    setHand(hand) {
      this.hand = hand;
      this.keep();
    }

    /** @param {string} name Who listens. */
    setListener(name) {
      this.listener = name;
      this.keep();
    }

    markSaved() {
      this.saved = true;
      this.keep();
      this.dispatchEvent(new Event('change'));
    }

    keep() {
      const { session, listener, marks, own, hand, saved } = this;
      try {
        localStorage.setItem(PLACE, JSON.stringify({ session, listener, marks, own, hand, saved }));
        this.kept = true;
      } catch {
        this.kept = false;
      }
    }
  }

  globalThis.sublatch ??= {};
  sublatch.Verdicts = Verdicts;
})();
