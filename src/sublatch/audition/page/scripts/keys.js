'use strict';

// All the page's keys: what each does, and where. Of an entry the first word is the action, the rest is told to it.
(() => {
  // Anywhere on the page, for the take that was heard last.
  const TAKE = {
    ' ': ['play'],
    l: ['loop'],
    h: ['here'],
    s: ['swap'],
    n: ['note'],
    d: ['dropout'],
    '+': ['zoom', 1],
    '-': ['zoom', -1],
    k: ['verdict', 'keep'],
    m: ['verdict', 'maybe'],
    o: ['verdict', 'out'],
    e: ['write'],
    ',': ['take', -1],
    '.': ['take', 1],
    p: ['view'],
    a: ['unnamed'],
    r: ['overview'],
    f: ['drawer'],
    ArrowUp: ['step', -1],
    ArrowDown: ['step', 1],
    v: ['turn', 'voicing'],
    b: ['turn', 'bed'],
    ...Object.fromEntries([...'0123456789'].map((digit) => [digit, ['choose', digit]])),
  };

  // On the place in the take and on the ends of the loop; steps in seconds.
  const PLACE = {
    ArrowLeft: ['step', -0.1],
    ArrowRight: ['step', 0.1],
    ArrowDown: ['step', -0.1],
    ArrowUp: ['step', 0.1],
    PageDown: ['step', -1],
    PageUp: ['step', 1],
    Home: ['first'],
    End: ['last'],
  };

  // On the notes over the wave.
  const NOTES = { ArrowLeft: ['step', -1], ArrowRight: ['step', 1], Home: ['first'], End: ['last'] };

  // In a blind session, whose sounds have these letters.
  function blind(letters) {
    const own = letters.map((letter) => [letter.toLowerCase(), ['letter', letter]]);
    return { ' ': ['play'], ArrowUp: ['move', -1], ArrowDown: ['move', 1], ...Object.fromEntries(own) };
  }

  // With one of these the key is the browser's.
  function held(event) {
    return event.ctrlKey || event.metaKey || event.altKey;
  }

  // Do what a key does in a place; an action that returns false leaves the key to the browser. Returns whether it did.
  function dispatch(event, keys, actions) {
    const [action, ...told] = keys[event.key] ?? keys[event.key.toLowerCase()] ?? [];
    if (!action || actions[action](...told) === false) return false;
    event.preventDefault();
    return true;
  }

  globalThis.sublatch ??= {};
  sublatch.keys = { TAKE, PLACE, NOTES, blind, held, dispatch };
})();
