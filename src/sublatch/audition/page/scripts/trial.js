'use strict';

// A session of blind listening as data: chance, the count, the file to save, and what it means in words.
(() => {
  const FORMAT = 1;
  const FEWEST_TRIALS = 5;
  const MOST_TRIALS = 500;
  const FEW_ROUNDS = 5;
  const LETTERS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ';

  // A whole number from 0 to below `count`, all of them equally likely.
  function random(count) {
    const box = new Uint32Array(1);
    const fair = 2 ** 32 - (2 ** 32 % count);
    do crypto.getRandomValues(box); while (box[0] >= fair);
    return box[0] % count;
  }

  function shuffled(list) {
    const mixed = [...list];
    for (let last = mixed.length - 1; last > 0; last -= 1) {
      const other = random(last + 1);
      [mixed[last], mixed[other]] = [mixed[other], mixed[last]];
    }
    return mixed;
  }

  function digits() {
    return [...crypto.getRandomValues(new Uint8Array(8))].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  }

  // Each candidate's rank in every round, 1 the most liked.
  function ranks(session) {
    return session.candidates.map(({ name }) =>
      session.trials.map((trial) => 1 + trial.answer.indexOf(LETTERS[trial.order.indexOf(name)])));
  }

  function counted(session) {
    const { planned, trials, candidates } = session;
    const answered = trials.length;
    const stopped = answered < planned;
    if (session.kind === 'ranking') {
      const means = ranks(session).map((each) => each.reduce((sum, rank) => sum + rank, 0) / answered);
      return { answered, stopped_early: stopped, mean_ranks: means };
    }
    const right = trials.filter((trial) => trial.order['AB'.indexOf(trial.answer)] === candidates[0].name).length;
    const probability = stopped ? null : sublatch.odds.chance(right, answered);
    return { answered, right, stopped_early: stopped, probability };
  }

  function rankText(mean) {
    return (Math.floor(10 * mean + 0.5) / 10).toFixed(1);
  }

  function outcome(session) {
    const { answered, right, probability, mean_ranks: means, stopped_early: stopped } = session.result;
    const early = stopped ? `, stopped before the ${session.planned} that were planned` : '';
    if (session.kind === 'ranking') {
      const best = Math.min(...means);
      const names = session.candidates.filter((_, i) => means[i] === best).map(({ name }) => name);
      const rounds = answered === 1 ? '1 round' : `${answered} rounds`;
      return `Liked most in ${rounds}${early}: ${names.join(' and ')}, mean place ${rankText(best)} of ${means.length}.`;
    }
    const score = `${right} of ${answered} right`;
    return stopped ? `${score}${early}.` : `${score}: a guess does this well ${sublatch.odds.inWords(probability)}.`;
  }

  function meaning(session) {
    if (session.result.stopped_early) {
      return 'No probability is told of what was stopped early: who may stop when it goes well always finds a good moment.';
    }
    return session.kind === 'ranking' ? rankingMeaning(session) : choiceMeaning(session.result);
  }

  function choiceMeaning({ answered, probability }) {
    const { CLEAR, chance, inWords, leastRight } = sublatch.odds;
    if (probability <= CLEAR) {
      return 'Guessing is a poor explanation: most likely a difference was heard. It says nothing of how large it is, '
        + 'or which of the two is better.';
    }
    const needed = leastRight(answered);
    return 'Guessing explains it: no difference was shown, which does not show that there is none. It takes '
      + `${needed} of ${answered}, and somebody who is right 7 times in 10 gets there `
      + `${inWords(chance(needed, answered, 7))}; more trials show more.`;
  }

  function rankingMeaning(session) {
    const { signTest, inWords } = sublatch.odds;
    const rounds = session.result.answered;
    if (rounds === 1) return 'One round shows only what you liked that day.';
    if (rounds <= FEW_ROUNDS) {
      return `${rounds} rounds are few: a coin would put the same one of two first throughout `
        + `${inWords(signTest(rounds, rounds))}. Take it as a liking, not as proof.`;
    }
    const chances = pairs(session).map((ahead) => signTest(ahead, rounds));
    const several = chances.length > 1;
    const any = Math.min(1, chances.length * Math.min(...chances));
    const clearest = several ? 'among so many pairs, chance makes one as clear as the clearest' : 'chance is as clear';
    return `If you had no preference, ${clearest} ${several && any < 1 ? 'at most ' : ''}${inWords(any)}. `
      + "It shows one person's liking, on this take.";
  }

  // For every pair, in how many rounds the first was put before the second.
  function pairs(session) {
    const all = ranks(session);
    return all.flatMap((first, i) => all.slice(i + 1)
      .map((second) => first.filter((rank, round) => rank < second[round]).length));
  }

  // What is saved: everything needed to count again.
  function finished({ audition, take, heard, kind, candidates, planned, trials, began }) {
    const session = {
      blind_listening: FORMAT,
      program: document.querySelector('meta[name=generator]')?.content ?? 'sublatch',
      session: digits(),
      audition,
      take: take.name,
      voicing: (heard.voicing && take.voicing?.name) || null,
      bed: (heard.bed && take.bed?.name) || null,
      kind,
      candidates: candidates.map(({ name, circuit, settings, digest }) =>
        ({ name, circuit: circuit ?? '', settings: settings ?? {}, sound: digest ?? null })),
      planned,
      began: began.toISOString(),
      ended: new Date().toISOString(),
      trials,
    };
    return { ...session, result: counted(session) };
  }

  globalThis.sublatch ??= {};
  sublatch.trial = { FEWEST_TRIALS, MOST_TRIALS, LETTERS, shuffled, finished, counted, outcome, meaning, rankText };
})();
