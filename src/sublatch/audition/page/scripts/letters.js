'use strict';

// Names hidden: every candidate is a letter, in an order that chance gave, on the same player and on every take alike.
(() => {
  const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ';

  /**
   * Return the letter at a place: A to Z, then AA, AB and so on.
   * @param {number} place Counted from 0.
   * @returns {string}
   */
  function letterAt(place) {
    const rest = Math.floor(place / ALPHABET.length);
    return `${rest ? letterAt(rest - 1) : ''}${ALPHABET[place % ALPHABET.length]}`;
  }

  /** The letters of an audition while its names are hidden. */
  class Letters {
    /** @param {number} count How many candidates there are. */
    constructor(count) {
      this.order = sublatch.trial.shuffled(Array.from({ length: count }, (_, i) => i));
      this.fresh = new Map(); // verdicts and notes given since the names were hidden; earlier ones would tell
      this.notes = new Map();
    }

    /** @param {number} index A candidate. */
    of(index) {
      return letterAt(this.order.indexOf(index));
    }

    /** Whether a candidate has a letter. @param {number} index */
    has(index) {
      return this.order.includes(index);
    }

    /** @param {string} take @param {number} index */
    verdictOf(take, index) {
      return this.fresh.get(`${index} ${take}`) ?? '';
    }

    /** @param {string} take @param {number} index @param {string} verdict */
    setVerdict(take, index, verdict) {
      this.fresh.set(`${index} ${take}`, verdict);
    }

    /** @param {string} take @param {number} index */
    noteOf(take, index) {
      return this.notes.get(`${index} ${take}`)?.text ?? '';
    }

    /**
     * Note something; returns it after what was noted while the names were shown.
     * @param {string} take @param {number} index @param {string} text @param {string} earlier
     */
    setNote(take, index, text, earlier) {
      const key = `${index} ${take}`;
      const { earlier: first } = this.notes.get(key) ?? { earlier };
      this.notes.set(key, { text, earlier: first });
      return [first, text].filter(Boolean).join('; ');
    }
  }

  /** The lines of one take's list while names are hidden. */
  class LetterLines {
    /**
     * @param {{list: HTMLElement, take: Object, letters: Letters, choose: (index: number) => void, lost: Set<number>}} given
     */
    constructor({ list, take, letters, choose, lost }) {
      const { make } = sublatch.markup;
      Object.assign(this, { letters, take, choose });
      this.lines = letters.order.map((index, place) => {
        const radio = make('input', { type: 'radio', name: 'letter', disabled: lost.has(index), change: () => choose(index) });
        const mark = make('span', { class: 'mark' });
        const number = make('kbd', {}, place < 10 ? String(place) : '');
        const label = make('label', {}, radio, number, make('span', { class: 'who' }, letterAt(place)), mark);
        return { index, radio, mark, box: make('div', { class: 'choice' }, label) };
      });
      this.element = make('fieldset', { class: 'choices lettered' }, make('legend', {}, 'What you hear'),
        ...this.lines.map(({ box }) => box));
      list.prepend(this.element);
    }

    /** @param {number} chosen */
    show(chosen) {
      for (const { index, radio, mark, box } of this.lines) {
        radio.checked = index === chosen;
        box.classList.toggle('heard', index === chosen);
        mark.textContent = this.letters.verdictOf(this.take.name, index);
        if (index === chosen) box.scrollIntoView({ block: 'nearest' });
      }
    }

    /** @param {string} digit */
    chooseBy(digit) {
      const line = this.lines[Number(digit)];
      return line && !line.radio.disabled ? this.choose(line.index) : false;
    }

    /** @param {number} by @param {number} chosen */
    step(by, chosen) {
      const lines = this.lines.filter(({ radio }) => !radio.disabled);
      this.choose(lines.at((lines.findIndex(({ index }) => index === chosen) + by) % lines.length).index);
    }
  }

  globalThis.sublatch ??= {};
  Object.assign(sublatch, { Letters, LetterLines });
})();
