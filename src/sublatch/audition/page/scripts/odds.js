'use strict';

// How often chance alone does as well: counted in whole numbers, and rounded once at the end.
(() => {
  const CLEAR = 0.05; // from here on guessing is a poor explanation
  const BASES = [[100, '100'], [1e3, '1000'], [1e4, '10 000'], [1e5, '100 000'], [1e6, 'a million']];

  // In how many ways `right` or more of `trials` answers can be right, each way weighted up^right · down^wrong.
  function ways(right, trials, up, down) {
    let count = 1n;
    let sum = 0n;
    for (let wrong = 0; wrong <= trials - right; wrong += 1) {
      sum += count * up ** BigInt(trials - wrong) * down ** BigInt(wrong);
      count = (count * BigInt(trials - wrong)) / BigInt(wrong + 1);
    }
    return sum;
  }

  // The quotient of two whole numbers that may be larger than any number with a point.
  function quotient(part, whole) {
    if (part === 0n) return 0;
    const shift = Math.max(0, whole.toString(2).length - part.toString(2).length + 64);
    return Number((part << BigInt(shift)) / whole) * 2 ** -shift;
  }

  // P(X ≥ right) of `trials` answers that are each right `tenths` times in 10; five is guessing.
  function chance(right, trials, tenths = 5) {
    const [up, down] = tenths === 5 ? [1n, 1n] : [BigInt(tenths), BigInt(10 - tenths)];
    return quotient(ways(right, trials, up, down), (up + down) ** BigInt(trials));
  }

  // How often an equal coin comes down on one side, either one, at least so unevenly.
  function signTest(ahead, rounds) {
    return Math.min(1, 2 * chance(Math.max(ahead, rounds - ahead), rounds));
  }

  // The fewest right answers that guessing gives at most 5 times in 100; none where there are too few trials.
  function leastRight(trials) {
    const most = 2n ** BigInt(trials);
    let count = 1n;
    let tail = 0n;
    for (let wrong = 0; wrong <= trials; wrong += 1) {
      tail += count;
      if (20n * tail > most) return wrong ? trials - wrong + 1 : null;
      count = (count * BigInt(trials - wrong)) / BigInt(wrong + 1);
    }
    return null;
  }

  function inWords(probability) {
    if (probability >= 1) return 'every time';
    for (const [base, name] of BASES) {
      if (probability * base >= 1) {
        const count = Math.floor(probability * base + 0.5);
        if (count === base) return `more than ${base - 1} times in ${name}`;
        return count === 1 ? `once in ${name}` : `${count} times in ${name}`;
      }
    }
    return 'less than once in a million';
  }

  globalThis.sublatch ??= {};
  sublatch.odds = { CLEAR, chance, signTest, leastRight, inWords };
})();
