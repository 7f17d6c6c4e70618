import type { Signal } from '../generated/Signal';

/** One sounding stretch of a signal: pitch in hertz, start and length in milliseconds. */
export type Note = { hz: number; at_ms: number; for_ms: number };

/**
 * The five signals. All pitches lie below 4 kHz, where old ears still hear, and above 500 Hz, where a phone
 * still sounds. They differ in rhythm as well as in pitch: two quick rising, four even pips, two long falling,
 * for the marks of a sweep, which come again and again, one single high stroke, and at the end of a wait three times
 * a pair, as a telephone rings, to be heard out of a pocket.
 */
export const patterns: Record<Signal | 'over', Note[]> = {
  taken: [
    { hz: 1047, at_ms: 0, for_ms: 70 },
    { hz: 1568, at_ms: 90, for_ms: 110 },
  ],
  unsteady: [0, 1, 2, 3].map((n) => ({ hz: 740, at_ms: n * 130, for_ms: 60 })),
  stop: [
    { hz: 880, at_ms: 0, for_ms: 420 },
    { hz: 587, at_ms: 480, for_ms: 620 },
  ],
  mark: [{ hz: 2093, at_ms: 0, for_ms: 160 }],
  over: [0, 700, 1400].flatMap((at) => [at, at + 220]).map((at) => ({ hz: 1319, at_ms: at, for_ms: 150 })),
};

/** Alternating stretches of shaking and rest, in milliseconds, in the rhythm of the sound. */
export function shaking(signal: Signal | 'over'): number[] {
  const beats: number[] = [];
  let end = 0;
  for (const note of patterns[signal]) {
    if (beats.length > 0) beats.push(note.at_ms - end);
    beats.push(note.for_ms);
    end = note.at_ms + note.for_ms;
  }
  return beats;
}

let audio: AudioContext | null = null;

/** Browsers let a page sound only after a person touched it. Call on the first touch. */
export function wake() {
  if (typeof AudioContext === 'undefined') return;
  audio ??= new AudioContext();
  if (audio.state === 'suspended') void audio.resume();
}

/** Shakes, and sounds if it may. Silent where the device cannot. */
export function give(signal: Signal | 'over', aloud: boolean) {
  if (aloud && audio && audio.state === 'running') for (const note of patterns[signal]) play(audio, note);
  if ('vibrate' in navigator) navigator.vibrate(shaking(signal));
}

function play(context: AudioContext, note: Note) {
  const from = context.currentTime + note.at_ms / 1000;
  const to = from + note.for_ms / 1000;
  const tone = context.createOscillator();
  const loudness = context.createGain();
  tone.frequency.value = note.hz;
  // Without these slopes every note clicks.
  loudness.gain.setValueAtTime(0, from);
  loudness.gain.linearRampToValueAtTime(0.6, from + 0.008);
  loudness.gain.setValueAtTime(0.6, to - 0.015);
  loudness.gain.linearRampToValueAtTime(0, to);
  tone.connect(loudness).connect(context.destination);
  tone.start(from);
  tone.stop(to);
}
