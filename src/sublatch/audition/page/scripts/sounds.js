'use strict';

// A take's sounds, from the files beside the page into memory. Each file is a script that hands over one sound as text,
// a long one in pieces; text and script are let go as soon as the sound is decoded, piece by piece. What was decoded
// once is shared by all who ask for it.
(() => {
  const AT_ONCE = 2;
  const handed = new Map();
  const decoded = new Map();

  // `carrier` is a function with the text as a comment; `frames` is how many samples all pieces of a long sound have
  // together.
  globalThis.sublatchSound = (key, carrier, frames = 0) => {
    const { texts } = handed.get(key) ?? { texts: [] };
    const text = String(carrier);
    handed.set(key, { texts: [...texts, text.slice(text.indexOf('/*') + 2, text.lastIndexOf('*/'))], frames });
  };

  // What the page itself carries, as a pocket edition does; null where it does not.
  function carried(key) {
    const element = document.querySelector(`[data-sound="${CSS.escape(key)}"]`);
    if (!element) return null;
    return element.localName === 'audio' ? element.getAttribute('src').split(',')[1] : element.textContent;
  }

  function fetched({ key, sound, name }) {
    const inside = carried(key);
    if (inside !== null) return Promise.resolve({ texts: [inside], frames: 0 });
    return new Promise((resolve, reject) => {
      const script = document.createElement('script');
      script.src = sound;
      script.onerror = () => reject(Object.assign(
        new Error(`the sound of “${name}” is not beside the page (${decodeURI(sound)})`), { missing: true }));
      script.onload = () => {
        const all = handed.get(key);
        if (all) resolve(all);
        else reject(new Error(`the sound of “${name}” is from another audition; run it again`));
      };
      const tidy = () => { handed.clear(); script.remove(); };
      script.addEventListener('load', tidy);
      script.addEventListener('error', tidy);
      document.head.append(script);
    });
  }

  function bytes(text) {
    if (Uint8Array.fromBase64) return Uint8Array.fromBase64(text);
    const binary = atob(text);
    const array = new Uint8Array(binary.length);
    for (let i = 0; i < binary.length; i += 1) array[i] = binary.charCodeAt(i);
    return array;
  }

  // A sound with silence after it, where it is shorter than so many frames.
  function filled(sound, frames) {
    if (sound.length >= frames) return sound;
    const longer = new AudioBuffer({ length: frames, sampleRate: sound.sampleRate });
    longer.copyToChannel(sound.getChannelData(0), 0);
    return longer;
  }

  // Let memory go now, not when the browser tidies up: what is sent to where nobody listens is gone.
  const away = new MessageChannel();
  away.port2.close();
  function letGo(samples) {
    away.port1.postMessage(null, [samples.buffer]);
  }

  // Pieces of a sound as one; each is let go when it has its place.
  async function joined(texts, frames, rate) {
    const context = new OfflineAudioContext(1, 1, rate);
    const next = () => context.decodeAudioData(bytes(texts.shift()).buffer);
    const first = await next();
    if (!texts.length) return first;
    const whole = new AudioBuffer({ length: frames, numberOfChannels: first.numberOfChannels, sampleRate: rate });
    let at = 0;
    for (let piece = first; piece; piece = texts.length ? await next() : null) {
      const { length } = piece;
      for (let i = 0; i < whole.numberOfChannels; i += 1) {
        const channel = piece.getChannelData(i);
        whole.copyToChannel(channel, i, at);
        letGo(channel);
      }
      at += length;
    }
    return whole;
  }

  async function decode(carrier, rate) {
    const { texts, frames } = await fetched(carrier);
    try {
      return filled(await joined(texts, frames, rate), carrier.frames ?? 0);
    } catch {
      throw new Error(`this browser cannot decode the sound of “${carrier.name}”`);
    }
  }

  function cacheKey({ key, frames = 0 }) {
    return `${key} ${frames}`;
  }

  // What is made for a key, by all who ask for it; what failed may be asked for again.
  function once(key, make) {
    if (!decoded.has(key)) {
      const made = make();
      decoded.set(key, made);
      made.catch(() => decoded.delete(key));
    }
    return decoded.get(key);
  }

  function decodedOnce(carrier, rate) {
    return once(cacheKey(carrier), () => decode(carrier, rate));
  }

  // What a script of other data than a sound carries.
  function data(carrier) {
    return once(cacheKey(carrier), async () => bytes((await fetched(carrier)).texts[0]));
  }

  // All sounds in order, a few at a time; `onProgress` is called with how many are there. What has `frames` is filled
  // up to so many with silence. In place of a sound that cannot be had stands an Error that says why.
  async function load(carriers, rate, onProgress) {
    const sounds = Array.from(carriers, () => null);
    let [next, done] = [0, 0];
    const work = async () => {
      while (next < carriers.length) {
        const i = next;
        next += 1;
        sounds[i] = await decodedOnce(carriers[i], rate).catch((problem) => problem);
        done += 1;
        onProgress(done, carriers.length);
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, work));
    return sounds;
  }

  function forget(carriers) {
    for (const carrier of carriers) decoded.delete(cacheKey(carrier));
  }

  globalThis.sublatch ??= {};
  sublatch.sounds = { load, forget, data };
})();
