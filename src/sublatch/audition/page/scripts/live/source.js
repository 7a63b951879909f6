'use strict';

// @ts-check
// The page's own sound in step with a take's files: its bare sounds, started so much earlier as its network comes late.
// Where playing begins and a loop comes round, what leaves the network is faded, as the files are.
(() => {
  class LiveSource {
    /**
     * @param {object} of
     * @param {BaseAudioContext} of.context
     * @param {any} of.live from `createLive`
     * @param {number} of.starts_s when it shall be heard, in the context's seconds
     * @param {number} of.first_s where in the take it begins
     * @param {[number, number] | null} of.loop
     */
    constructor({ context, live, starts_s: starts, first_s: first, loop }) {
      this.live = live;
      this.node = live.node();
      const begin = Math.max(0, starts - live.late_s);
      const from = first + begin - (starts - live.late_s); // what a context that begins now has no time for is left out
      const around = loop ? { loop: true, loopStart: loop[0], loopEnd: loop[1] } : {};
      /** @type {AudioBufferSourceNode[]} */
      this.sources = live.buffers.map((/** @type {AudioBuffer} */ buffer) => new AudioBufferSourceNode(context, { buffer, ...around }));
      this.sources.forEach((source, input) => {
        source.connect(this.node, 0, input);
        source.start(begin, from);
      });
    }

    /** @param {AudioNode} destination @returns {AudioNode} */
    connect(destination) {
      return this.node.connect(destination);
    }

    /** Let everything go. */
    end() {
      this.live.release(this.node);
    }
  }

  globalThis.sublatch ??= {};
  sublatch.LiveSource = LiveSource;
})();
