'use strict';

// Blind listening, while it goes on: the letters to hear, the answer, and the way out. No candidate's name is here.
(() => {
  const SHORTEST_S = 0.05;

  function hearing(letter, text, hear) {
    return sublatch.markup.button(text, () => hear(letter), {
      'data-hear': letter,
      'aria-pressed': 'false',
      'aria-label': text === letter ? `Listen to ${letter}` : 'Listen to the reference',
    });
  }

  // Which of A and B is the reference?
  function choice({ hear, answer }) {
    const { make, button } = sublatch.markup;
    const heard = [['R', 'Reference'], ['A', 'A'], ['B', 'B']].map(([letter, text]) => hearing(letter, text, hear));
    const element = make('div', {},
      make('div', { class: 'blind-line', role: 'group', 'aria-label': 'Listen' }, ...heard),
      make('p', {}, 'Which of A and B is the reference?'),
      make('div', { class: 'blind-line' },
        ...['A', 'B'].map((letter) => button(`${letter} is the reference`, () => answer(letter)))),
      make('p', { class: 'facts' }, 'Keys: R, A and B to listen, space to play and pause, Shift with A or B to answer. '
        + 'Whether you were right is told at the end.'));
    return { element, shifted: (letter) => 'AB'.includes(letter) && answer(letter) };
  }

  // The letters in the order of liking.
  function ranking({ letters, hear, answer }) {
    const { make, button } = sublatch.markup;
    const status = make('p', { role: 'status', class: 'facts' });
    const list = make('ol', { class: 'blind-order' });
    const order = () => [...list.children].map((item) => item.dataset.letter);
    const move = (letter, step) => {
      const item = list.querySelector(`[data-letter="${letter}"]`);
      const focused = document.activeElement;
      if (step < 0) item.previousElementSibling?.before(item);
      else item.nextElementSibling?.after(item);
      if (item.contains(focused)) focused.focus();
      status.textContent = `${letter} is at place ${order().indexOf(letter) + 1} of ${letters.length}.`;
    };
    list.append(...letters.map((letter) => make('li', { 'data-letter': letter }, hearing(letter, letter, hear),
      button('Up', () => move(letter, -1), { 'aria-label': `Move ${letter} up` }),
      button('Down', () => move(letter, 1), { 'aria-label': `Move ${letter} down` }))));
    const element = make('div', {}, make('p', {}, 'Put the one you like most at the top.'), list, status,
      make('div', { class: 'blind-line' }, button('This is my order', () => answer(order()))),
      make('p', { class: 'facts' }, 'Keys: a letter to listen, the arrows up and down to move the one you hear, space to '
        + 'play and pause. Which is which is told at the end.'));
    return { element, moved: move };
  }

  // Play and pause, and the part of the take that is heard over and over.
  function transport({ player, seconds, part, toggle }) {
    const { make, button } = sublatch.markup;
    const limit = (label, value) => make('input', {
      type: 'number', step: 'any', min: 0, max: seconds, value, 'aria-label': label, change: () => loop(),
    });
    const [from, to] = [limit('From second', part[0]), limit('To second', part[1])];
    const loop = () => {
      const [start, end] = [Number(from.value), Number(to.value)];
      if (!from.checkValidity() || !to.checkValidity() || end - start < SHORTEST_S) return;
      part.splice(0, 2, start, end);
      player.setLoop(start, end);
    };
    const play = button('Play', toggle, { class: 'blind-play' });
    const clock = make('span', { class: 'blind-clock' });
    const tell = () => {
      play.textContent = player.playing ? 'Pause' : 'Play';
      clock.textContent = `${player.time.toFixed(1)} s`;
    };
    tell();
    const element = make('div', { class: 'blind-line' }, play, clock,
      make('span', { class: 'blind-line' }, 'From', from, 'to', to, 's,'), 'over and over');
    return { element, tell };
  }

  // The way out before the end, which asks once more.
  function ending({ answered, planned, stop }) {
    const { make, button } = sublatch.markup;
    const element = make('div', { class: 'blind-line blind-stop' });
    const question = answered
      ? `Stop after ${answered} of ${planned}? The result will say so, and no probability is told then.`
      : 'Leave? Nothing has been answered, and nothing is kept.';
    const first = button('Stop early', () => {
      const [yes, no] = [button('Stop here', stop), button('Go on', () => element.replaceChildren(first))];
      element.replaceChildren(make('span', {}, question), yes, no);
      no.focus();
    });
    element.append(first);
    return element;
  }

  globalThis.sublatch ??= {};
  sublatch.blindTrial = { choice, ranking, transport, ending };
})();
