'use strict';

// The list of a take's candidates: one is heard; it can be put in order, searched, and rid of what is out.
(() => {
  const RANK = { keep: 0, maybe: 1, '': 2, out: 3 };

  class List {
    /**
     * @param {{section: HTMLElement, take: Object, choose: (index: number) => void, verdictOf: (index: number) => string}}
     *   given What is chosen is a candidate's number.
     */
    constructor({ section, take, choose, verdictOf }) {
      Object.assign(this, { section, take, choose, verdictOf, position: 0, lost: new Map() });
      this.place = section.querySelector('.choices');
      this.entries = [...section.querySelectorAll('.choice')].map((box) => this.entry(box));
      this.sifting = section.querySelector('.sifting');
      this.sifting.addEventListener('input', () => this.sift());
      this.sift();
    }

    /**
     * Put lines after the others for what was set by hand.
     * @param {{name: string, differs: string}[]} own
     * @param {number} from The first one's number.
     */
    showOwn(own, from) {
      const told = JSON.stringify(own.map(({ name, differs }) => [name, differs]));
      if (told === this.told) return;
      this.told = told;
      for (const { box } of this.entries.filter(({ isOwn }) => isOwn)) box.remove();
      const name = this.section.querySelector('.choice [type=radio]').name;
      const made = own.map((each, i) => this.ownEntry(each, from + i, name));
      this.entries = [...this.entries.filter(({ isOwn }) => !isOwn), ...made];
      this.place.append(...made.map(({ box }) => box));
    }

    ownEntry({ name, differs }, number, group) {
      const { make } = sublatch.markup;
      const at = this.entries.filter(({ isOwn }) => !isOwn).length + number - this.take.candidates.length;
      const key = at < 10 ? String(at) : '';
      const who = make('span', { class: 'who' }, make('bdi', {}, name), make('span', { class: 'what', dir: 'auto' }, differs));
      const box = make('div', { class: 'choice own', 'data-entry': number, ...(key ? { 'data-key': key } : {}) },
        make('label', {}, make('input', { type: 'radio', name: group }), make('kbd', {}, key || '·'), who,
          make('span', { class: 'mark', 'data-mark': '' })));
      return { ...this.entry(box), isOwn: true };
    }

    // One line to choose by; a sweep's has a slider, which chooses among its candidates.
    entry(box) {
      const [radio, slider] = box.querySelectorAll('input');
      const numbers = box.dataset.entry.split(' ').map(Number);
      const entry = { box, radio, slider, numbers, key: box.dataset.key };
      if (slider) this.showSweep(box, slider, 0, this.take.candidates[numbers[0]].sweep);
      radio.addEventListener('change', () => this.choose(this.at(entry)));
      slider?.addEventListener('input', () => this.slide(entry));
      return entry;
    }

    // A slider goes past candidates whose sounds cannot be had.
    slide({ numbers, slider, radio }) {
      const from = radio.checked ? this.position : Number(slider.value);
      let to = Number(slider.value);
      const by = Math.sign(to - from);
      if (by) while (this.lost.has(numbers[to]) && to + by in numbers) to += by;
      if (this.lost.has(numbers[to])) to = from;
      slider.value = to;
      this.choose(numbers[to]);
    }

    at({ numbers, slider }) {
      return numbers[slider ? Number(slider.value) : 0];
    }

    /**
     * Choose by a digit; false where no line has it.
     * @param {string} digit
     */
    chooseBy(digit) {
      const entry = this.entries.find(({ key }) => key === digit);
      return entry && !entry.radio.disabled ? this.choose(this.at(entry)) : false;
    }

    /**
     * Choose the line below the one that is heard, or above; past the end, from the other end on.
     * @param {number} by
     * @param {number} chosen
     */
    step(by, chosen) {
      const lines = [...this.place.children].map((box) => this.entries.find((entry) => entry.box === box))
        .filter((entry) => entry && !entry.box.hidden && !entry.radio.disabled);
      const at = lines.findIndex(({ numbers }) => numbers.includes(chosen));
      const next = lines.at((at + by + (at < 0 && by < 0 ? 1 : 0)) % lines.length);
      if (next) this.choose(this.at(next));
    }

    /** @param {number} chosen The candidate that is heard. */
    show(chosen) {
      for (const { box, radio, slider, numbers } of this.entries) {
        const position = numbers.indexOf(chosen);
        radio.checked = position >= 0;
        box.classList.toggle('heard', position >= 0);
        if (position < 0) continue;
        if (slider) this.showSweep(box, slider, position, this.take.candidates[chosen].sweep);
        this.reveal(box);
      }
      this.showMarks();
    }

    // Roll the list to a line that is out of sight, and nothing else.
    reveal(box) {
      const { place } = this;
      const [line, view] = [box.getBoundingClientRect(), place.getBoundingClientRect()];
      if (line.top < view.top) place.scrollTop += line.top - view.top;
      else if (line.bottom > view.bottom) place.scrollTop += line.bottom - view.bottom;
    }

    showSweep(box, slider, index, { label, position }) {
      this.position = index;
      slider.value = index;
      slider.setAttribute('aria-valuetext', `${label} ${position}`);
      box.querySelector('.position').textContent = ` ${position}`;
    }

    // Each line's verdict, a sweep's at the place where its slider stands.
    showMarks() {
      for (const entry of this.entries) {
        const verdict = this.verdictOf(this.at(entry));
        entry.box.querySelector('[data-mark]').textContent = verdict;
        entry.box.dataset.marked = verdict;
      }
      this.sift();
    }

    /** @param {Map<number, string>} lost Candidates whose sounds cannot be had, and why. */
    takeAway(lost) {
      this.lost = lost;
      for (const entry of this.entries) {
        const gone = entry.numbers.filter((number) => lost.has(number));
        entry.radio.disabled = gone.length === entry.numbers.length;
        entry.box.classList.toggle('lost', entry.radio.disabled);
        entry.box.title = gone.map((number) => lost.get(number)).join('; ');
      }
    }

    // A sweep is out where every one of its candidates is.
    isOut({ numbers }) {
      return numbers.every((number) => this.verdictOf(number) === 'out');
    }

    figure({ numbers }, order) {
      const candidate = this.take.candidates[numbers[0]];
      return order === 'locked_share' ? candidate?.locked_share : candidate?.balance?.[order];
    }

    compare(order) {
      if (order === 'name') return (one, other) => one.box.innerText.localeCompare(other.box.innerText);
      if (order === 'verdict') {
        const rank = (entry) => Math.min(...entry.numbers.map((number) => RANK[this.verdictOf(number)]));
        return (one, other) => rank(one) - rank(other);
      }
      return (one, other) => (this.figure(other, order) ?? -1e9) - (this.figure(one, order) ?? -1e9);
    }

    // Order and search; lines keep their numbers and keys.
    sift() {
      const [words, order, withoutOut] = ['words', 'order', 'without-out']
        .map((kind) => this.sifting.querySelector(`[data-sift="${kind}"]`));
      const wanted = words.value.trim().toLocaleLowerCase();
      withoutOut.parentElement.hidden = !withoutOut.checked && !this.entries.some((entry) => this.isOut(entry));
      for (const entry of this.entries) {
        const text = entry.box.querySelector('.who').textContent.toLocaleLowerCase();
        const isHeard = entry.box.classList.contains('heard');
        entry.box.hidden = !isHeard && ((wanted && !text.includes(wanted)) || (withoutOut.checked && this.isOut(entry)));
      }
      const lines = order.value === 'plan' ? this.entries : this.entries.toSorted(this.compare(order.value));
      if (lines.some(({ box }, i) => this.place.querySelectorAll('.choice')[i] !== box)) {
        this.place.append(...lines.map(({ box }) => box));
      }
      this.sifting.hidden = 'few' in this.sifting.dataset && withoutOut.parentElement.hidden;
    }
  }

  globalThis.sublatch ??= {};
  sublatch.List = List;
})();
