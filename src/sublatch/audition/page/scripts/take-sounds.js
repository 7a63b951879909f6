'use strict';

// What a take needs to sound, and what is said where something is in the way: missing sounds, no output.
(() => {
  const START_WITHIN_MS = 2500; // a browser whose sound has not begun by then is said to keep it back
  const SEEN_MISSING = 3; // missing sounds that are told by name

  class TakeSounds {
    /** @param {{section: HTMLElement, data: Object, context: () => AudioContext, told: Object | null}} given */
    constructor({ section, data, context, told }) {
      Object.assign(this, { section, data, context, troubles: new Map() });
      this.player = new sublatch.Player({ take: data, context, told });
    }

    // Wake the sound output now, since it was asked for now.
    wake() {
      try {
        const context = this.context();
        context.resume();
        return context;
      } catch (problem) {
        this.trouble('output', `No sound can be played here: ${problem.message}.`);
        return null;
      }
    }

    // Say so where the browser keeps the sound back, or there is nothing to play it on.
    listen(context) {
      const begun = context.currentTime;
      this.trouble('output', '');
      setTimeout(() => {
        if (!this.player.playing || (context.state === 'running' && context.currentTime > begun)) return;
        this.trouble('output', 'No sound comes out: the browser has not begun to play. Is a loudspeaker or an interface '
          + 'connected, and may this page play sound? Then press Play again.');
        context.addEventListener('statechange', () => context.state === 'running' && this.trouble('output', ''), { once: true });
      }, START_WITHIN_MS);
    }

    // Get the sounds, and with a context what makes some of them; false, and said, where none can be had.
    async loadSounds(context = null) {
      const onProgress = (done, all) => sublatch.chosen.put(this.section, 'getting', done < all ? `Getting the sounds ready: ${done} of ${all}` : '');
      try {
        await this.player.load(onProgress);
        if (context) await this.player.begin(context, onProgress);
        return true;
      } catch (problem) {
        sublatch.chosen.put(this.section, 'getting', '');
        this.trouble('sounds', problem.all
          ? `None of the sounds of this take is beside the page: ${problem.message}. Is index.html alone, away from its folder? `
            + 'Open it where the audition wrote it, or move the whole folder.'
          : `This take cannot be played here: ${problem.message}. The files can be played one by one under Figures.`);
        document.documentElement.classList.add('lost');
        return false;
      }
    }

    // A sound that cannot be had takes only itself away; returns which ones, and why.
    tellLost() {
      const { lost } = this.player;
      const away = new Map(lost.map(({ which, problem }) => [which, problem.message]));
      if (!lost.length) return away;
      document.documentElement.classList.add('lost');
      const told = lost.slice(0, SEEN_MISSING).map(({ problem }) => problem.message).join('; ');
      const more = lost.length > SEEN_MISSING ? `; and ${lost.length - SEEN_MISSING} more` : '';
      this.trouble('sounds', `Left out: ${told}${more}. Move the page only with its whole folder, or run the audition again.`);
      return away;
    }

    trouble(kind, text) {
      this.troubles.set(kind, text);
      this.section.querySelector('.trouble').textContent = [...this.troubles.values()].filter(Boolean).join(' ');
    }
  }

  globalThis.sublatch ??= {};
  sublatch.TakeSounds = TakeSounds;
})();
