'use strict';

// Where controls stand that are moved while a take plays, by the same law as the sounds were made by.
(() => {
  // A knob runs straight from one end of a move to the other and rests in between; a switch stands where the last move
  // that has begun put it. `moves` are one control's in order.
  function position(moves, time) {
    const [first] = moves;
    if (typeof first.start !== 'number') return (moves.findLast((move) => move.start_s <= time)?.end) ?? first.start;
    const next = moves.find((move) => time < move.end_s);
    if (!next) return moves.at(-1).end;
    const share = Math.max(0, (time - next.start_s) / (next.end_s - next.start_s));
    return next.start + share * (next.end - next.start);
  }

  // Every control that some move has, and where it stands at a time.
  function positions(moves, time) {
    const controls = [...new Set(moves.map(({ control }) => control))];
    return controls.map((control) => [control, position(moves.filter((move) => move.control === control), time)]);
  }

  function inWords([control, at]) {
    const name = control.split('.').at(-1);
    if (typeof at === 'number') return `${name} ${at.toFixed(1)}`;
    if (typeof at === 'boolean') return at ? name : `not ${name}`;
    return `${name}: ${at}`;
  }

  function description(moves, time) {
    return positions(moves ?? [], time).map(inWords).join(', ');
  }

  globalThis.sublatch ??= {};
  sublatch.moves = { positions, description };
})();
