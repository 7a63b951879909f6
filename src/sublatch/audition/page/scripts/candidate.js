'use strict';

// What is shown of the candidate that is heard: its settings, first those in which it differs from the one heard before,
// and its curves beside that one's.
(() => {
  const REGIONS = [['weight_db', 'weight'], ['body_db', 'body'], ['bite_db', 'bite']];

  const MOST_DB = 12; // what fills half a bar

  // The settings of one candidate that another has otherwise, and those that both have, in words.
  function compared(own, other) {
    const otherWords = new Map(other.words);
    const [differs, alike] = [[], []];
    for (const [path, words] of own.words) (otherWords.get(path) === words ? alike : differs).push(words);
    return { differs: differs.join('; '), alike: alike.join('; ') };
  }

  function decibels(level) {
    const rounded = Math.round(10 * level) / 10 || 0;
    return `${rounded > 0 ? '+' : ''}${rounded.toFixed(1)} dB`.replace('-', '−');
  }

  function balance(candidate) {
    const levels = REGIONS.filter(([key]) => Number.isFinite(candidate.balance?.[key]))
      .map(([key, name]) => `${name} ${decibels(candidate.balance[key])}`);
    return levels.length ? `Against bypassed: ${levels.join(', ')}` : '';
  }

  // The three parts of the spectrum as bars from a middle, which is the bypassed take.
  function showBars(section, candidate) {
    for (const bar of section.querySelectorAll('[data-bar]')) {
      const level = candidate.balance?.[bar.dataset.bar];
      const isThere = Number.isFinite(level);
      const reach = isThere ? Math.min(Math.max(level / MOST_DB, -1), 1) : 0;
      const { style } = bar.querySelector('.fill');
      style.left = `${50 + 50 * Math.min(reach, 0)}%`;
      style.width = `${50 * Math.abs(reach)}%`;
      bar.querySelector('.amount').textContent = isThere ? decibels(level) : '–';
    }
  }

  function put(section, kind, text) {
    for (const element of section.querySelectorAll(`[data-show="${kind}"]`)) element.textContent = text;
  }

  // Bring out what belongs to one candidate, and more quietly what belongs to the other. What was set by hand holds on to
  // notes as the candidate that it came from does, and has curves of its own.
  function bringOut(section, index, before) {
    const belongs = (element, { curve, lock }) => element.dataset.of.split(' ')
      .includes(String(element.closest('.curves') ? curve : lock));
    for (const element of section.querySelectorAll('[data-of]')) {
      element.classList.toggle('heard', belongs(element, index));
      element.classList.toggle('before', belongs(element, before) && !belongs(element, index));
    }
    for (const svg of section.querySelectorAll('.curves svg')) svg.append(...svg.querySelectorAll('.before, .heard'));
  }

  // While names are hidden only letters are shown, and nothing that tells one from another.
  function showLetters(section, { own, other }) {
    for (const kind of ['differs', 'alike', 'balance', 'above', 'held']) put(section, kind, '');
    put(section, 'name', own);
    put(section, 'other', other);
    return own;
  }

  // Show a candidate against the one before it; returns what a listener who cannot see it is told. `letters` stand for
  // the names while those are hidden, and are null otherwise.
  function show({ section, candidates, index, before, letters = null }) {
    const [own, other] = [candidates[index], candidates[before]];
    const alone = index === before;
    section.querySelector('.against').hidden = alone;
    const numbers = ({ base }, number) => (letters ? { curve: -1, lock: -1 }
      : { curve: base === undefined ? number : -1, lock: base ?? number });
    bringOut(section, numbers(own, index), numbers(other, before));
    if (letters) return showLetters(section, { own: letters.of(index), other: letters.of(before) });
    const { differs, alike } = alone ? { differs: '', alike: own.words.map(([, words]) => words).join('; ') }
      : compared(own, other);
    const against = `Unlike ${other.name}: ${differs}`;
    put(section, 'name', own.name);
    put(section, 'other', other.name);
    put(section, 'differs', differs ? against : '');
    put(section, 'alike', alike && !alone && differs ? `The same: ${alike}` : alike);
    put(section, 'balance', balance(own));
    put(section, 'above', own.above ? `${own.name} stands ${own.above}.` : '');
    put(section, 'held', section.querySelector('.strip.heard .told')?.textContent ?? '');
    showBars(section, own);
    return differs ? `${own.name}. ${against}` : own.name;
  }

  globalThis.sublatch ??= {};
  sublatch.chosen = { show, put, showBars };
})();
