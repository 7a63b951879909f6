'use strict';

// Over the pictures of a take: where the sound is, where to start from, and the ends of the stretch that is looped.
(() => {
  const LEAST_DRAG_PX = 6;

  const element = sublatch.markup.make;

  function slider(kind, label, seconds) {
    return element('div', {
      class: kind, role: 'slider', tabindex: 0, 'aria-label': label, 'aria-valuemin': 0, 'aria-valuemax': seconds,
    });
  }

  class Marks {
    // `start(seconds)` is called when a place to start from is chosen; true as its second argument: and play.
    // `description()` is what there is to say of the place where the sound is.
    constructor({ lanes, player, start, description }) {
      Object.assign(this, { lanes, player, start, description, seconds: player.take.seconds });
      this.head = slider('head', 'Place in the take', this.seconds);
      this.ends = ['Start of the loop', 'End of the loop'].map((label) => slider('end', label, this.seconds));
      this.stretch = element('div', { class: 'stretch' });
      this.here = element('div', { class: 'here' });
      const over = element('div', { class: 'marks' });
      over.append(this.stretch, this.here, this.head, ...this.ends);
      lanes.append(over);
      this.listen();
      this.addNotes();
      this.showLoop(player.loop);
      this.showHere(0);
      this.showTime();
    }

    listen() {
      this.lanes.addEventListener('pointerdown', (event) => this.press(event));
      this.head.addEventListener('keydown', (event) => this.key(event, this.player.time, (time) => this.start(time)));
      this.ends.forEach((end, i) => {
        end.addEventListener('pointerdown', (event) => this.drag(event, i));
        end.addEventListener('keydown', (event) => this.key(event, this.player.loop[i], (time) => this.moved(i, time)));
      });
      this.player.addEventListener('time', () => this.showTime());
      this.player.addEventListener('state', () => this.showTime());
      this.player.addEventListener('loop', () => this.showLoop(this.player.loop));
    }

    timeAt(event) {
      const { left, width } = this.lanes.getBoundingClientRect();
      return Math.min(Math.max((event.clientX - left) / width, 0), 1) * this.seconds;
    }

    // Follow a pointer until it lets go; `leave` is called where the browser takes it for scrolling.
    follow(target, event, { move, let_go: letGo, leave }) {
      target.setPointerCapture(event.pointerId);
      const gone = new AbortController();
      const on = (kind, what) => target.addEventListener(kind, (next) => {
        if (next.pointerId !== event.pointerId) return;
        if (kind !== 'pointermove') gone.abort();
        what(next);
      }, { signal: gone.signal });
      on('pointermove', move);
      on('pointerup', letGo);
      on('pointercancel', leave);
    }

    // Pressed on the wave: a click starts there, a drag chooses what is looped.
    press(event) {
      const pressed = event.target.closest('svg');
      if (!pressed || pressed.closest('.axis') || event.button !== 0) return;
      const from = this.timeAt(event);
      const far = (next) => Math.abs(next.clientX - event.clientX) >= LEAST_DRAG_PX;
      const stretch = (next) => [from, this.timeAt(next)].sort((one, other) => one - other);
      this.follow(pressed, event, {
        move: (next) => far(next) && this.showLoop(stretch(next)),
        let_go: (next) => (far(next) ? this.player.setLoop(...stretch(next)) : this.start(from)),
        leave: () => this.showLoop(this.player.loop),
      });
    }

    drag(event, i) {
      if (event.button !== 0) return;
      event.stopPropagation();
      let loop = this.player.loop;
      const move = (next) => {
        loop = [this.player.loop[1 - i], this.timeAt(next)].sort((one, other) => one - other);
        this.showLoop(loop);
      };
      this.follow(this.ends[i], event, {
        move,
        let_go: () => this.player.setLoop(...loop),
        leave: () => this.showLoop(this.player.loop),
      });
    }

    key(event, time, move) {
      if (sublatch.keys.held(event)) return;
      const step = (by) => move(time + by * (event.shiftKey ? 0.1 : 1));
      const actions = { step, first: () => step(-time), last: () => step(this.seconds - time) };
      sublatch.keys.dispatch(event, sublatch.keys.PLACE, actions);
    }

    moved(i, time) {
      const loop = this.player.loop;
      const otherEnd = loop[1 - i];
      loop[i] = i ? Math.max(time, otherEnd + 0.05) : Math.min(time, otherEnd - 0.05);
      this.player.setLoop(...loop);
    }

    // A note is a button to start from; one stop of the tab key for all, arrows from one to the next.
    addNotes() {
      const lane = this.lanes.querySelector('.notes');
      const { notes } = this.player.take;
      if (!lane || !notes?.length) return;
      const bar = element('div', { class: 'note-starts', role: 'toolbar', 'aria-label': 'Start from a note' });
      bar.append(...notes.map((note, i) => this.note(note, i)));
      bar.addEventListener('keydown', (event) => this.walk(event, [...bar.children]));
      lane.append(bar);
    }

    note({ name, start_s: start, end_s: end, open_string: open }, i) {
      const label = `${name}${open ? ', open string' : ''}, from ${start.toFixed(2)} s`;
      const button = element('button', { type: 'button', tabindex: i ? -1 : 0, 'aria-label': label, title: label });
      button.style.left = this.across(start);
      button.style.width = this.across(end - start);
      button.append(element('span', { class: open ? 'open' : 'stopped', 'aria-hidden': 'true' }, name));
      button.addEventListener('click', () => this.start(start, true));
      return button;
    }

    walk(event, notes) {
      const at = notes.indexOf(event.target);
      const go = (next) => {
        if (!(next in notes)) return false;
        notes[at].tabIndex = -1;
        notes[next].tabIndex = 0;
        notes[next].focus();
        return true;
      };
      const actions = { step: (by) => go(at + by), first: () => go(0), last: () => go(notes.length - 1) };
      sublatch.keys.dispatch(event, sublatch.keys.NOTES, actions);
    }

    across(time) {
      return `${(100 * time) / this.seconds}%`;
    }

    moveTo(mark, time) {
      mark.style.left = this.across(time);
      if (mark.getAttribute('role') !== 'slider') return;
      mark.setAttribute('aria-valuenow', time.toFixed(2));
      mark.setAttribute('aria-valuetext', `${time.toFixed(mark === this.head ? 1 : 2)} seconds`);
    }

    showTime() {
      this.moveTo(this.head, this.player.time);
      const description = this.description();
      const time = this.head.getAttribute('aria-valuetext');
      if (description) this.head.setAttribute('aria-valuetext', `${time}, ${description}`);
    }

    showHere(time) {
      this.moveTo(this.here, time);
    }

    showLoop(loop) {
      for (const mark of [this.stretch, ...this.ends]) mark.hidden = !loop;
      if (!loop) return;
      this.moveTo(this.stretch, loop[0]);
      this.stretch.style.width = this.across(loop[1] - loop[0]);
      this.ends.forEach((end, i) => this.moveTo(end, loop[i]));
    }
  }

  globalThis.sublatch ??= {};
  sublatch.Marks = Marks;
})();
