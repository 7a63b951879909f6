'use strict';

// A take's sounds, from the files beside the page into memory. Each file is a script that hands over one sound as text;
// text and script are let go as soon as the sound is decoded. What was decoded once is shared by all who ask for it.
(() => {
  const AT_ONCE = 2;
  const handed = new Map();
  const decoded = new Map();

  globalThis.sublatchSound = (key, text) => handed.set(key, text);

  function fetched({ key, sound, name }) {
    return new Promise((resolve, reject) => {
      const script = document.createElement('script');
      script.src = sound;
      script.onerror = () => reject(new Error(`the sound of “${name}” is not beside the page (${decodeURI(sound)})`));
      script.onload = () => {
        const text = handed.get(key);
        if (text === undefined) reject(new Error(`the sound of “${name}” is from another audition; run it again`));
        else resolve(text);
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

  async function decode(candidate, rate) {
    const { buffer } = bytes(await fetched(candidate));
    try {
      return await new OfflineAudioContext(1, 1, rate).decodeAudioData(buffer);
    } catch {
      throw new Error(`this browser cannot decode the sound of “${candidate.name}”`);
    }
  }

  function one(candidate, rate) {
    if (!decoded.has(candidate.key)) {
      const sound = decode(candidate, rate);
      decoded.set(candidate.key, sound);
      sound.catch(() => decoded.delete(candidate.key));
    }
    return decoded.get(candidate.key);
  }

  // All candidates' sounds in order, a few at a time; `told` is called with how many are there.
  async function load(candidates, rate, told) {
    const found = new Array(candidates.length);
    let [next, done] = [0, 0];
    const work = async () => {
      while (next < candidates.length) {
        const i = next;
        next += 1;
        found[i] = await one(candidates[i], rate);
        done += 1;
        told(done, candidates.length);
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, work));
    return found;
  }

  function forget(candidates) {
    for (const { key } of candidates) decoded.delete(key);
  }

  globalThis.sublatch ??= {};
  sublatch.sounds = { load, forget };
})();
