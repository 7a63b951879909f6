'use strict';

// @ts-check
// The page's own sound in step with a take's files: its bare sounds, started so much earlier as its network comes late.
(() => {
  const EDGE_S = 0.005; // fade where playing begins, so that no click goes into the network

  class LiveSource {
    /**
     * @param {object} of
     * @param {BaseAudioContext} of.context
     * @param {any} of.live from `createLive`
     * @param {number} of.starts_s when it shall be heard, in the context's seconds
     * @param {number} of.first_s where in the take it begins
     * @param {[number, number] | null} of.loop
     * @param {AudioBuffer | null} of.envelope gain around the loop's seam
     */
    constructor({ context, live, starts_s: starts, first_s: first, loop, envelope }) {
      this.live = live;
      this.node = live.node();
      const begin = Math.max(0, starts - live.late_s);
      const from = first + begin - (starts - live.late_s); // what a context that begins now has no time for is left out
      const around = loop ? { loop: true, loopStart: loop[0], loopEnd: loop[1] } : {};
      /** @type {AudioBufferSourceNode[]} */
      this.sources = live.buffers.map((/** @type {AudioBuffer} */ buffer) => new AudioBufferSourceNode(context, { buffer, ...around }));
      this.sources.forEach((source, input) => {
        const [edge, end] = [new GainNode(context, { gain: from > 0 ? 0 : 1 }), new GainNode(context, { gain: loop ? 0 : 1 })];
        source.connect(edge).connect(end).connect(this.node, 0, input);
        if (from > 0) edge.gain.setValueAtTime(0, begin).linearRampToValueAtTime(1, begin + EDGE_S);
        source.start(begin, from);
        if (!loop) return;
        const seam = new AudioBufferSourceNode(context, { buffer: envelope, loop: true });
        seam.connect(end.gain);
        seam.start(begin, from - loop[0]);
        this.sources.push(seam);
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
