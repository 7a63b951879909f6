'use strict';

// Where controls stand that are moved while a take plays, by the same law as the sounds were made by.
(() => {
  // A knob runs straight from one end of a move to the other and rests in between; a switch stands where the last move
  // that has begun put it. `own` are one control's moves in order.
  function place(own, time) {
    if (typeof own[0].start !== 'number') return (own.findLast((move) => move.start_s <= time)?.end) ?? own[0].start;
    const next = own.find((move) => time < move.end_s);
    if (!next) return own.at(-1).end;
    const over = Math.max(0, (time - next.start_s) / (next.end_s - next.start_s));
    return next.start + over * (next.end - next.start);
  }

  // Every control that some move has, and where it stands at a time.
  function stands(moves, time) {
    const controls = [...new Set(moves.map(({ control }) => control))];
    return controls.map((control) => [control, place(moves.filter((move) => move.control === control), time)]);
  }

  function inWords([control, where]) {
    const name = control.split('.').at(-1);
    if (typeof where === 'number') return `${name} ${where.toFixed(1)}`;
    if (typeof where === 'boolean') return where ? name : `not ${name}`;
    return `${name}: ${where}`;
  }

  function told(moves, time) {
    return stands(moves ?? [], time).map(inWords).join(', ');
  }

  globalThis.sublatch ??= {};
  sublatch.moves = { stands, told };
})();
