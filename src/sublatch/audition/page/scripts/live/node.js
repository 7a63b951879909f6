'use strict';

// @ts-check
// The worklet's node in a context, and a whole take made by it without being heard.
(() => {
  /** @type {WeakMap<BaseAudioContext, Promise<void>>} */
  const modules = new WeakMap();

  /** Make a context ready for nodes. @type {(context: BaseAudioContext) => Promise<void>} */
  function ready(context) {
    if (!modules.has(context)) modules.set(context, context.audioWorklet.addModule(sublatch.liveWorklet));
    return modules.get(context);
  }

  /**
   * A node with an input of two channels for each bare sound, and one channel out.
   * @param {BaseAudioContext} context
   * @param {{full_scale_volts: number}[]} sounds
   * @param {object[]} turns that are there already
   * @returns {AudioWorkletNode}
   */
  function node(context, sounds, turns) {
    return new AudioWorkletNode(context, 'sublatch-live', {
      numberOfInputs: sounds.length,
      numberOfOutputs: 1,
      outputChannelCount: [1],
      channelCount: 2,
      channelCountMode: 'explicit',
      channelInterpretation: 'discrete',
      processorOptions: { full_scales: sounds.map((each) => each.full_scale_volts), turns, tables: sublatch.tables },
    });
  }

  /**
   * A whole take at one setting, beside what plays.
   * @param {{full_scale_volts: number, buffer: AudioBuffer}} sound
   * @param {any} turn
   * @returns {Promise<Float32Array>}
   */
  async function whole(sound, turn) {
    const { length, sampleRate } = sound.buffer;
    const context = new OfflineAudioContext(1, length + sublatch.tables.LATE, sampleRate);
    await ready(context);
    const source = new AudioBufferSourceNode(context, { buffer: sound.buffer });
    source.connect(node(context, [sound], [{ ...turn, input: 0, frame: 0 }])).connect(context.destination);
    source.start();
    return (await context.startRendering()).getChannelData(0).subarray(sublatch.tables.LATE);
  }

  globalThis.sublatch ??= {};
  sublatch.liveNode = { ready, node, whole };
})();
