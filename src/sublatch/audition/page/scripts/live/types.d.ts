// What the scripts in this folder say of each other, for a type checker: `tsc -p` here. Nothing of it runs.

declare var sublatch: any;

/** An element of a network: a resistor or capacitor between two nodes, or an op-amp with plus, minus and output. */
interface Part {
  sort: 'resistor' | 'capacitor' | 'op-amp';
  name: string;
  nodes: string[];
  /** Ohms or farads. */
  value?: number;
  /** Where an op-amp's gain has fallen to 1; ideal without. */
  bandwidth_hz?: number;
}

/** A circuit at one position of all its controls. */
interface Setting {
  /** As Python tells it (audition/live/parts.py). */
  circuit: any;
  /** tone, peak, direct, direct_tone, volume. */
  controls: Record<string, any>;
  /** What differs from the circuit's own, by setting, in ohms and farads; pots' tracks too. */
  values?: Record<string, number>;
}

/** x' = A x + B u, y = C x + D u, with r states and two sources. */
interface StateSpace {
  /** Of the states: capacitors, and op-amps of finite bandwidth. */
  names: string[];
  a: Float64Array;
  b: Float64Array;
  c: Float64Array;
  d: Float64Array;
}

/** A filter before there are parts, swept by the tone knob, its peak chosen by the switch. */
interface Wish {
  /** Its corner, 3.01 dB below its gain at 0 Hz, with the knob at 0 and at 10. */
  low_hz: number;
  high_hz: number;
  /** Its highest rise with the switch at peaked; 0 for the flattest curve without. */
  peak_db: number;
}

/** What is wanted; what is left out stays as it is. */
interface Change {
  /** The candidate to start from, with all its own controls and parts. */
  candidate?: string;
  controls?: Record<string, any>;
  values?: Record<string, number>;
  /** A filter in place of the parts'; null for the parts' own. */
  wish?: Wish | null;
  /** Parts that were found in place of the filter's, as find.js has them; null for the circuit's own. */
  found?: any;
  /** All else as the candidate itself has it, and exact figures only when `settle` is called. */
  fresh?: boolean;
}

declare class AudioWorkletProcessor {
  port: MessagePort;
}
declare function registerProcessor(name: string, processor: any): void;
declare const sampleRate: number;
declare const currentFrame: number;
